"""What players aim at with their own shots: targets, goals and scores."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from feedscript.diagnostics import Span
from feedscript.language.program.declared import Point
from feedscript.language.program.recorded import Recorded


class TargetDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``target "…" { … }``: an area on the launcher's side, in one piece or several.

    ``relative``: its sides are the player's own, so that a left-hander's is its mirror image.
    """

    name: str
    outlines_m: tuple[tuple[Point, ...], ...]
    marked: str = ""  # with what it is laid out
    relative: bool = False
    span: Span


class GoalDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``goal …``: so many shots in the target, or in court, of a player's last ``of`` balls.

    ``of`` None: of all. A goal in a row has as many ``of`` as ``at_least``. ``share``: written as
    this share of the last ``of``, 0 to 1.
    """

    at_least: int
    of: int | None = None
    in_target: bool = False
    in_a_row: bool = False
    share: float | None = None
    span: Span


class ScoreDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``score …``: what a ball gives by its result, to the player or to the launcher.

    ``to``: the game is over at so many. ``pairs``: two players have one score together.
    """

    to: int | None = None
    pairs: bool = False
    points: Mapping[Recorded, int]
    against: Mapping[Recorded, int] = msgspec.field(default_factory=dict)
    span: Span
