"""What of the picture shall lie elsewhere, and the ways in which the words can have it."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from feedscript.editor.fixes import Change

Point = tuple[float, float]


class Thing(StrEnum):
    """What can be put elsewhere."""

    LANDING = "landing"  # of a feed
    WAITS = "waits"  # where the receiver of a feed waits
    RECEIVER = "receiver"  # where the group's receiver waits
    PLAYER = "player"  # where this one waits
    LAUNCHER = "launcher"
    COACH = "coach"  # by the line: walks, or stands
    STATION = "station"
    KEEP_OUT = "keep out"
    TARGET = "target"


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """What shall lie where.

    ``from_m``: where a point lies now; a part of its place that says the same of both is left
    alone. Of an area: ``part`` counts what goes by the same name, in the order of the text, and
    ``grip`` is what is held, by the sides towards x and y: (1, -1) is the corner of most x and
    least y, (0, 0) the whole, whose middle shall lie at ``to_m``.
    """

    thing: Thing
    name: str = ""
    part: int = 0
    grip: tuple[int, int] = (0, 0)
    from_m: Point | None = None
    to_m: Point
    snapped: bool = True


class Choice(msgspec.Struct, frozen=True):
    """One way to have it: what it is called, and its changes in the order of the text."""

    title: str
    changes: tuple[Change, ...]


class Moved(msgspec.Struct, frozen=True):
    """The ways to have it, the plainest first; none, and the reason, where there is none.

    ``asks``: why somebody has to choose, where there are several.
    """

    choices: tuple[Choice, ...] = ()
    refused: str = ""
    asks: str = ""
