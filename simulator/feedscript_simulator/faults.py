"""What shall go wrong on the stand-in, as a person writes it: ``lost=0.02``, ``jam=7``.

Shares are of the pieces that cross the line in either direction; ``jam`` and ``cut`` name a ball by
its number, ``loaded`` says how many there are.
"""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from feedscript.diagnostics import Page
from feedscript.launcher.port import LauncherError

UNKNOWN_FAULT = Page(
    slug="unknown-fault",
    title="A fault that the stand-in does not know",
    why=(
        "Faults of the line are shares from 0 to 1: `lost`, `doubled`, `corrupted`, `late`, "
        "`reordered`, `split`, `merged`. Faults of the launcher name a ball: `jam=7` lets the "
        "seventh ball jam. `cut=7` lets nothing cross the line any more once the seventh ball "
        "leaves, `loaded=20` has only twenty balls in the hopper until it is next filled. "
        "`ppm=40` makes its clock run fast."
    ),
)


class LineFaults(Struct, frozen=True, kw_only=True):
    """Chances of each fault, for every piece of bytes that crosses; delays in seconds."""

    lost: float = 0.0
    doubled: float = 0.0
    corrupted: float = 0.0
    late: float = 0.0
    reordered: float = 0.0
    split: float = 0.0
    merged: float = 0.0
    least_delay_s: float = 0.0
    late_by_s: float = 0.3

    def any(self) -> bool:
        """Whether the line does anything at all to what crosses it."""
        return self != SOUND


SOUND = LineFaults()


class Faults(Struct, frozen=True):
    """Everything that shall go wrong."""

    line: LineFaults = SOUND
    jams_at: frozenset[int] = frozenset()
    clock_ppm: float = 0.0
    cut_at: int | None = None  # the ball with which the line goes dead
    loaded: int | None = None  # balls in the hopper at first, where it was not filled


_SHARES = ("lost", "doubled", "corrupted", "late", "reordered", "split", "merged")
_NUMBERS = ("cut", "loaded")


def read_faults(words: Iterable[str]) -> Faults:
    """Faults from their written form. Raises LauncherError for one that is not known."""
    shares: dict[str, float] = {}
    jams: set[int] = set()
    numbers: dict[str, int] = {}
    clock_ppm = 0.0
    for word in (part.strip() for each in words for part in each.split(",")):
        name, _, text = word.partition("=")
        value = _number(text)
        if value is None:
            raise _unknown(word)
        if name in _SHARES and 0 <= value <= 1:
            shares[name] = value
        elif name == "jam" and value >= 1:
            jams.add(int(value))
        elif name in _NUMBERS and value >= 1:
            numbers[name] = int(value)
        elif name == "ppm" and abs(value) <= 1000:
            clock_ppm = value
        else:
            raise _unknown(word)
    return Faults(
        LineFaults(**shares),
        frozenset(jams),
        clock_ppm,
        cut_at=numbers.get("cut"),
        loaded=numbers.get("loaded"),
    )


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _unknown(word: str) -> LauncherError:
    return LauncherError(
        UNKNOWN_FAULT.report(
            f"{word!r} is not a fault with its number",
            help=f"write one of {', '.join(_SHARES)} with a share, jam=BALL, cut=BALL, "
            "loaded=BALLS or ppm=NUMBER",
        )
    )
