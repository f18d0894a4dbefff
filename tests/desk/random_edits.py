"""A coach at work for hours: random edits of a program, of a file it uses and of its launcher.

Numbers, units and words are changed, blocks taken out, doubled and moved, mistakes made and taken
back. Deterministic by its seed.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from pathlib import Path

PROGRAM = """feedscript 1
title "An evening"   # invented
use "pace.feed"
suits { stage club  players 2 to 6 }
court { surface hard  air 18 C }
balls { type 2  load 60 }
launcher { profile "own.toml"  stands 1 m behind baseline, on centre line }
group { players "Ash", "Birch", "Cedar"  level club  receiver 1 m behind baseline, on centre line
    left-handed "Birch"
}
keep out "bench" {
    between on service line, 1 m outside deuce sideline and on baseline, 3 m outside deuce sideline
    height 2 m
}
target "box" { between on service line, on centre line and on baseline, on ad sideline }
let gap = 2 m
let rhythm = 5 s
feed deep { land gap inside baseline, 1.5 m inside ad sideline  speed 84 km/h  spin top 700 rpm }
feed wide = deep with { land 2.5 m inside baseline, 1 m inside deuce sideline }
feed lob { land 2 m inside baseline, on centre line  apex 5 m }
feed met { land 3 m inside baseline, on centre line  flight 1.4 s }
feed mixed { land 3 m inside baseline, 1 m to ad of centre line  speed pace.fast
    vary place 0.3 m, speed 2 km/h
}
pattern pair(one: feed, other: feed) { send one after rhythm  send other after rhythm + 1 s }
lesson of 40 min {
    show speed of deep
    exercise "depth" { target "box"  repeat 3 { pair(deep, wide) } rest 20 s }
    for each player { repeat 4 { send deep after 6 s } rest 12 s }
    say "Now high ones."
    repeat 4 { send lob after 8 s }
    collect
    choose { 3: send met after 6 s  1: send pace.soft after 6 s }
    shuffle { send mixed after 6 s  send wide after 6 s }
}
expect { balls <= 60  deep clears net by 0.3 m }
"""

STATIONS = """feedscript 1
title "Two stations"
court { lines doubles  surface clay }
balls { type 2  load 50 }
launcher west { profile "own.toml"  stands 1 m behind baseline, 2.5 m to ad of centre mark }
launcher east {
    profile "three-wheels.toml"  stands 1 m behind baseline, 2.5 m to deuce of centre mark
}
group { 4 players  level club }
require net-clearance 0.3 m
feed drive {
    land 3 m inside baseline, 2.5 m to deuce of centre line  speed 85 km/h  receiver at -2.5 m, 13 m
}
feed volley {
    land 3 m inside baseline, 2.5 m to ad of centre line  speed 90 km/h  receiver at 2.5 m, 13 m
}
lesson {
    show speed of drive
    show speed of volley
    together {
        station "drives" on launcher west {
            for each player { repeat 3 { send drive after 6 s } rest 9 s }
        }
        station "volleys" on launcher east { repeat 6 { send volley after 5 s }  rest 12 s }
    }
    collect
}
"""

SMALL = """feedscript 1
use "pace.feed"
court { surface hard  altitude 100 m  air 18 C }
balls { type 2  load 60 }
launcher { profile "own.toml"  stands 1 m behind baseline, 0.5 m ad of centre mark }
group { 3 players  level club  receiver 1 m behind baseline, 0.5 m deuce of centre mark }
keep out "bench" {
    between on service line, 1 m outside deuce sideline and on baseline, 3 m outside deuce sideline
    height 2 m
}
require net-clearance 0.2 m
require scatter 3.1
let gap = 2 m
feed deep { land gap inside baseline, 1.5 m inside ad sideline  speed 84 km/h  spin top 900 rpm }
feed lob { land 2 m inside baseline, on centre line  apex 5 m
    receiver 1 m inside baseline, 2 m ad of centre line }
lesson of 10 min {
    show speed of deep
    repeat 3 { send deep after 5 s  send pace.soft after 6 s vary 0.5 s } rest 12 s
    for each player { repeat 4 { send lob after 8 s } rest 12 s }
}
expect { balls <= 60  deep clears net by 0.3 m }
"""

USED = """feedscript 1
let fast = 88 km/h
feed soft { land 3 m inside baseline, on centre line  speed 75 km/h }
"""

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def each_number(text: str, factor: float = 1.03) -> Iterator[str]:
    """The text with one number another, number by number; not those in its remarks."""
    for spot in _NUMBER.finditer(text):
        if "#" not in text[text.rfind("\n", 0, spot.start()) + 1 : spot.start()]:
            yield f"{text[: spot.start()]}{float(spot[0]) * factor:.4g}{text[spot.end() :]}"


_WORD = re.compile(r"[^\W\d][\w-]*")
_TYPED = (
    "\n", " ", "{", "}", '"', "(", ",", "0", "7", "x", "speed ", "send deep after 5 s ", "# ", "%",
    "\u00a0", "m ", "after ", "arc high ", "spin back 400 rpm ", "let other = 3 s\n",
    "feed new { land 2 m inside baseline, on centre line  speed 80 km/h }\n",
    'allow too-fast-for-group because "shown"\n',
)  # fmt: skip


def in_folder(folder: Path) -> tuple[Path, Path]:
    """The file that the programs use, and their launcher, written."""
    used, profile = folder / "pace.feed", folder / "own.toml"
    shipped = Path(__file__).parents[2] / "programs" / "launchers" / "garage.toml"
    used.write_text(USED, "utf-8")
    profile.write_bytes(shipped.read_bytes())
    return used, profile


class Coach:
    """One program in a folder, changed again and again."""

    def __init__(self, folder: Path, text: str, seed: int) -> None:
        self.random = random.Random(seed)
        self.path = folder / "evening.feed"
        self.begun = self.text = text
        self._used, self._profile = in_folder(folder)
        self._garage = self._profile.read_text("utf-8")
        self._before: list[tuple[str, str, str]] = []

    def edit(self, stuck: bool) -> str:
        """Something changes; what it was. Who is ``stuck`` in a mistake mostly takes it back."""
        kinds: list[tuple[int, Callable[[], None]]] = [
            (8, self._number),
            (3, self._word),
            (2, self._word_twice),
            (2, self._line_out),
            (2, self._line_moved),
            (2, self._block_out),
            (2, self._block_again),
            (2, self._type),
            (2, self._rub_out),
            (1, self._other_file),
            (1, self._launcher),
            (1, self._start_again),
        ]
        weights = [weight for weight, _ in kinds]
        chosen = self.random.choices([kind for _, kind in kinds], weights)[0]
        if self._before and self.random.random() < (0.7 if stuck else 0.1):
            chosen = self._take_back  # else mistakes heap up, and hardly anything is aimed
        else:
            now = (self.text, self._used.read_text("utf-8"), self._profile.read_text("utf-8"))
            self._before = [*self._before[-8:], now]
        chosen()
        return chosen.__name__

    def _replace(self, start: int, end: int, words: str) -> None:
        self.text = self.text[:start] + words + self.text[end:]

    def _spot(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        found = list(pattern.finditer(self.text))
        return self.random.choice(found) if found else None

    def _number(self) -> None:
        if (spot := self._spot(_NUMBER)) is not None:
            factor = self.random.choice([0.5, 0.97, 0.99, 1.01, 1.03, 2.0])
            self._replace(*spot.span(), f"{float(spot[0]) * factor:.{self.random.randint(0, 3)}f}")

    def _word(self) -> None:
        spot, other = self._spot(_WORD), self._spot(_WORD)
        if spot is not None and other is not None:
            self._replace(*spot.span(), other[0])

    def _word_twice(self) -> None:
        if (spot := self._spot(_WORD)) is not None:
            self._replace(spot.end(), spot.end(), f" {spot[0]}")

    def _lines(self) -> list[str]:
        return self.text.splitlines(keepends=True)

    def _line_out(self) -> None:
        lines = self._lines()
        if lines:
            del lines[self.random.randrange(len(lines))]
        self.text = "".join(lines)

    def _line_moved(self) -> None:
        lines = self._lines()
        if lines:
            line = lines.pop(self.random.randrange(len(lines)))
            lines.insert(self.random.randint(0, len(lines)), line)
        self.text = "".join(lines)

    def _block(self) -> tuple[int, int] | None:
        """A block with its head, from the beginning of a line."""
        opening = self._spot(re.compile(r"^[^\n{}]*\{", re.MULTILINE))
        if opening is None:
            return None
        depth = 0
        for brace in re.finditer(r"[{}]", self.text[opening.start() :]):
            depth += 1 if brace[0] == "{" else -1
            if depth == 0:
                return opening.start(), opening.start() + brace.end()
        return None

    def _block_out(self) -> None:
        if (block := self._block()) is not None:
            self._replace(*block, "")

    def _block_again(self) -> None:
        """A block once more elsewhere: a copy, mostly with a name that is taken."""
        if (block := self._block()) is not None:
            words, starts = self.text[slice(*block)], [0]
            starts += [found.end() for found in re.finditer("\n", self.text)]
            at = self.random.choice(starts)
            self._replace(at, at, words + "\n")

    def _type(self) -> None:
        at = self.random.randint(0, len(self.text))
        self._replace(at, at, self.random.choice(_TYPED))

    def _rub_out(self) -> None:
        at = self.random.randint(0, len(self.text))
        self._replace(at, at + self.random.choice([1, 1, 1, 5]), "")

    def _take_back(self) -> None:
        self.text, used, profile = self._before.pop()
        self._write(self._used, used)
        self._write(self._profile, profile)

    def _start_again(self) -> None:
        self.text = self.begun

    def _other_file(self) -> None:
        speed = self.random.choice(["88 km/h", "84 km/h", "300 km/h", "88 kmh", "24 m/s"])
        more = self.random.choice(["", "\n", "feed soft {}", "let fast = 3 s\n"])
        self._write(self._used, more + USED.replace("88 km/h", speed))

    def _launcher(self) -> None:
        changes = [("", ""), ("elevation", "elevate"), ("0.16", "0.24"), ("45.0", "24")]
        old, new = self.random.choice(changes)
        self._write(self._profile, self._garage.replace(old, new, 1) if old else self._garage)

    def _write(self, path: Path, words: str) -> None:
        path.write_text(words, "utf-8")
