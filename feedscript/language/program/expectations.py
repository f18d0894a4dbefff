"""What a program expects of itself."""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Span
from feedscript.language.program.declared import Point


class Measure(StrEnum):
    """What an expectation may bound over the whole lesson."""

    BALLS = "balls"
    TIME = "time"  # seconds
    FASTEST = "fastest"  # m/s
    REST = "rest"  # share of the time in which nothing leaves by a rest, 0 to 1


class Compare(StrEnum):
    """How a measure shall stand to its value."""

    AT_MOST = "<="
    AT_LEAST = ">="
    BELOW = "<"
    ABOVE = ">"
    EXACTLY = "="


class Bound(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``balls <= 60``: must hold for every run."""

    measure: Measure
    compare: Compare
    value: float
    span: Span


#: The feed's name, or None where the program says ``every feed``.
FeedName: TypeAlias = str | None


class ClearsNet(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``deep clears net by 0.5 m``: the ball's lower edge over the net's cord.

    Of every ball within the stated scatter, or (``aimed``) of the ball as it is aimed.
    """

    feed: FeedName
    by_m: float
    aimed: bool = False
    span: Span


class LandsWithin(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``95 % of deep within 0.7 m``: this share of balls lands so near to the feed's place."""

    feed: FeedName
    share: float
    within_m: float
    span: Span


class ArrivesBetween(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``deep arrives between 0.7 m and 1.3 m``: height of the ball's middle at the receiver.

    Of every ball within the stated scatter, or (``aimed``) of the ball as it is aimed.
    """

    feed: FeedName
    low_m: float
    high_m: float
    aimed: bool = False
    span: Span


class BouncesInside(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``deep bounces inside ad backcourt``: the aimed landing and its scatter."""

    feed: FeedName
    area: str
    outline_m: tuple[Point, ...]
    span: Span


class PlayerGets(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``every player gets between 10 and 12 balls``."""

    low: int
    high: int
    span: Span


class PlayerWaits(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``no player waits longer than 3 min``."""

    most_s: float
    span: Span


class Running(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``never more than 3 of deep in a row``; ``every feed``: of any one feed."""

    feed: FeedName
    most: int
    span: Span


Expectation: TypeAlias = (
    Bound
    | ClearsNet
    | LandsWithin
    | ArrivesBetween
    | BouncesInside
    | PlayerGets
    | PlayerWaits
    | Running
)
