"""Feeds as a program wishes for them."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from feedscript.diagnostics import Span
from feedscript.language.program.declared import Point


class Contact(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Where the player shall meet the ball: so high, so far behind the bounce."""

    height_m: float
    behind_bounce_m: float


class Variation(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Bounded, seeded variation: each value moves by at most so much either way."""

    place_m: float = 0.0  # radius about the landing place
    speed_mps: float = 0.0
    spin_rpm: float = 0.0  # of the spin's size; its mixture stays
    seed: int | None = None  # None: drawn from the program's seed


class ProgressionDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Feeds from the easiest to the hardest, by their names; its rungs: each player stands on one.

    That of a mirror image has the same ``name``: whoever goes up in one has gone up in both.
    """

    name: str
    rungs: tuple[str, ...]


class FeedWish(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A feed as wished: the landing, and exactly one of speed, apex, flight time and contact."""

    name: str
    land_m: Point
    #: Over the whole sweep of a launcher that swings by itself: only its depth counts.
    swept: bool = False
    speed_mps: float | None = None
    apex_m: float | None = None
    flight_s: float | None = None
    contact: Contact | None = None
    high_arc: bool = False
    top_rpm: float = 0.0
    side_rpm: float = 0.0
    within_m: float | None = None  # the target's radius
    receiver_m: Point | None = None
    vary: Variation | None = None
    #: The feed a left-hander gets instead; None where sides are the court's, not the player's.
    mirrored: str | None = None
    span: Span
    spans: Mapping[str, Span] = msgspec.field(default_factory=dict)
