"""The page of the library's exercises, made from their files.

``python -m feedscript.language.tools.library_page`` writes the README beside them. The pictures
that it shows are drawn by ``feedscript draw library/NAME -o programs/library/pictures/NAME.svg``.
"""

from __future__ import annotations

import re
from pathlib import Path

import msgspec

from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.program import ExerciseStatement, Program, SuitsDecl
from feedscript.language.resolve.loading import load_beside
from feedscript.language.resolve.read_program import read_program
from feedscript.language.syntax import parse
from feedscript.memo import Memo
from feedscript.shipped import shipped_folder

FOLDER = shipped_folder() / "library"
FILE = FOLDER / "README.md"
_HEAD = """# Exercises, ready to use

Generated from the files by `python -m feedscript.language.tools.library_page`; do not edit.

Each exercise is a file of its own: a pattern whose name is the file's, with its feeds, and a small
lesson that shows it. Use one in a lesson of yours; everything in brackets can be left out.

```feedscript
feedscript 1
use "library/warm_up.feed"
use "library/depth_cross.feed"
court { surface hard }
balls { type 2  load 75 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ash", "Birch", "Cedar"  level club  receiver 1 m behind centre mark }
lesson {
    show speed of depth_cross.to_forehand_quick
    warm_up.warm_up(balls = 4)
    collect
    depth_cross.depth_cross(depth_cross.to_forehand_quick, turns = 1)
}
```

`mirror` before the call turns it to the other side. The pictures show each as it stands in its own
file, for a right-hander and a left-hander."""


class Exercise(msgspec.Struct, frozen=True):
    """One file of the library: its exercise, what its first lines say, and how it is called."""

    path: Path
    said: ExerciseStatement
    suits: SuitsDecl
    trains: str
    wants: tuple[str, ...]  # its goals and its score, as written
    call: str


def exercises() -> list[Exercise]:
    """Every file of the library, by name."""
    return [exercise_of(path) for path in sorted(FOLDER.glob("*.feed"))]


def exercise_of(path: Path) -> Exercise:
    """What the exercise of a file of the library is."""
    text = path.read_text(encoding="utf-8")
    program, found = read_program(text, str(path), load_beside(path, shipped_folder()), Memo())
    assert isinstance(program, Program), found
    assert program.suits is not None, path
    said = next(step for step in program.lesson if isinstance(step, ExerciseStatement))
    trains = re.search(r"^# Trains: (.*?)\n#\n", text, re.DOTALL | re.MULTILINE)
    assert trains is not None, path
    why = " ".join(trains[1].replace("\n#", "").split())
    wants = tuple(re.findall(r"^ +((?:goal|score) .*)$", text, re.MULTILINE))
    return Exercise(path, said, program.suits, why, wants, _call(path, text))


def _call(path: Path, text: str) -> str:
    items = parse(Source(path.name, text)).tree.items
    pattern = next(one for one in items if isinstance(one, t.Pattern) and one.name == path.stem)
    given = ", ".join(text[one.start : one.end] for one in pattern.params)
    return f"{path.stem}.{path.stem}({given})"


def as_markdown() -> str:
    """The whole page."""
    found = exercises()
    rows = ["| exercise | themes | for | players |", "|---|---|---|---|", *map(_row, found)]
    return "\n\n".join([_HEAD, "\n".join(rows), *map(_section, found)]) + "\n"


def _row(one: Exercise) -> str:
    themes, stages = ", ".join(one.suits.themes), ", ".join(one.suits.stages)
    least, most = one.suits.players or (1, 1)
    return f"| [{one.said.title}](#{one.path.stem}) | {themes} | {stages} | {least} to {most} |"


def _section(one: Exercise) -> str:
    said = one.said
    lines = [f"- {word.capitalize()}: {getattr(said, word)}" for word in _NOTES]
    lines += [f"- `{want}`" for want in one.wants]
    lines += [f"- Needs: {', '.join(one.suits.needs)}"] if one.suits.needs else []
    lines.append(f"- `{one.call}`")
    picture = f"![{said.title}: where its balls go](pictures/{one.path.stem}.svg)"
    head = f"## {one.path.stem}\n\n**{said.title}** trains {one.trains}"
    return "\n\n".join([head, "\n".join(lines), picture])


_NOTES = ("aim", "watch", "easier", "harder")

if __name__ == "__main__":
    FILE.write_text(as_markdown(), encoding="utf-8")
