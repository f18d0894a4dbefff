"""The program as the plan takes it: every name resolved, every value in the internal unit.

``language`` builds this and knows nothing of flight; ``plan`` aims it. Places are metres in court
axes (origin under the middle of the net, x to the receiver's ad side, y towards the receiver).
Patterns are inlined with their arguments evaluated; ``repeat`` is not unrolled. Every node keeps
the ``span`` that it was written at, and a step that came out of a pattern keeps the calls that led
there (``calls``, outermost first), so that a message can show both places.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Span
from feedscript.units import Dimension

Point: TypeAlias = tuple[float, float]


class CourtDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``court { … }``. None means that the program does not say, not that there is no limit."""

    lines: str = "singles"  # singles, doubles, green, orange, red: a key of court.lines.COURTS
    surface: str | None = None  # hard, clay, grass, carpet
    pace_rating: float | None = None  # Court Pace Rating of a measured surface
    restitution: float | None = None
    altitude_m: float = 0.0
    air_c: float = 20.0
    pressure_hpa: float | None = None
    humidity: float | None = None  # 0 to 1
    wind_mps: Point = (0.0, 0.0)  # the way the air moves, in court axes
    roof_m: float | None = None
    fence_m: float | None = None  # height of the fence behind the baseline
    fence_gap_m: float | None = None  # from the baseline to that fence
    side_gap_m: float | None = None  # from the sideline to the side fence or the next court
    neighbours: tuple[str, ...] = ()  # "ad", "deuce": sides with a court beside, as the receiver
    span: Span | None = None
    spans: Mapping[str, Span] = msgspec.field(default_factory=dict)


class BallsDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``balls { … }``: one kind of ball, and how many are in the hopper."""

    kind: str = "type 2"  # "type 1" … "type 3", "high altitude", "stage red|orange|green", "foam"
    load: int | None = None
    wear: float = 0.0  # 0 new to 1 bald
    span: Span | None = None
    spans: Mapping[str, Span] = msgspec.field(default_factory=dict)


class LauncherDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``launcher [NAME] { … }``. With ``profile`` None the shipped example profile is meant."""

    name: str = ""
    profile: str | None = None
    stands_m: Point = (0.0, -12.8872)  # one metre behind the centre mark
    facing_deg: float = 0.0  # the way it is turned: an azimuth
    mouth_m: float | None = None  # height of the mouth, where it differs from the profile
    load: int | None = None
    span: Span | None = None
    spans: Mapping[str, Span] = msgspec.field(default_factory=dict)


class GroupDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``group { … }``. ``names`` is empty or has one for each player."""

    players: int = 1
    names: tuple[str, ...] = ()
    left_handed: int = 0  # how many; ``left_handed_names`` says who, where it is written
    left_handed_names: tuple[str, ...] = ()
    stage: str | None = None  # red, orange, green, yellow
    level: str | None = None  # beginner, improver, club, county, touring
    ages: tuple[int, int] | None = None
    receiver_m: Point | None = None  # where a player waits for a feed that does not say
    keep_together: tuple[tuple[str, ...], ...] = ()
    keep_apart: tuple[tuple[str, ...], ...] = ()
    span: Span | None = None
    spans: Mapping[str, Span] = msgspec.field(default_factory=dict)


class KeepOut(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """An area on the ground where no ball may pass below ``height_m``: coach, bench, collectors."""

    name: str
    outline_m: tuple[Point, ...]
    height_m: float | None
    span: Span


class WaiverDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``allow RULE because "…"``."""

    rule: str
    because: str
    span: Span


class RequirementDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``require RULE QUANTITY``: a limit made stricter."""

    rule: str
    value: float
    dimension: Dimension
    span: Span


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


class FeedWish(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A feed as wished: the landing, and exactly one of speed, apex, flight time and contact."""

    name: str
    land_m: Point
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


class Recorded(StrEnum):
    """What may be recorded of a ball: in, or one of the trade's four errors."""

    IN = "in"
    NET = "net"
    LONG = "long"
    LEFT = "left"
    RIGHT = "right"


class RecordCondition(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A question to the record of the turn (or of the lesson, outside a turn).

    ``share`` None: ``count`` balls with this record, in a row where ``in_a_row``. ``share`` given:
    at least this share of the last ``count`` balls. ``feed`` narrows it to one feed's balls.
    """

    outcome: Recorded
    count: int
    in_a_row: bool = False
    share: float | None = None
    feed: str | None = None
    span: Span


class StatementNode(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """What every step has."""

    span: Span
    calls: tuple[Span, ...] = ()


class SendStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """One ball, ``after_s`` past the one before, moved by at most ``vary_s`` either way."""

    feed: str
    after_s: float
    vary_s: float = 0.0


class ShowSpeedStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """One ball of the feed, watched from the side with nobody in front."""

    feed: str


class RestStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Nothing leaves for this long."""

    seconds: float


class SayStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Words for the players."""

    text: str


class CollectStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The launcher is made safe, balls are picked up, a person arms it again."""


class RepeatStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The body, so many times (at least once)."""

    times: int
    body: tuple[Statement, ...]


class OptionStatement(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One way of a choice and its weight (at least 1)."""

    weight: int
    body: tuple[Statement, ...]
    span: Span


class ChooseStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """One of the options, drawn by weight each time the step is reached."""

    options: tuple[OptionStatement, ...]
    seed: int | None = None


class ShuffleStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Every item once, in an order drawn each time the step is reached."""

    items: tuple[tuple[Statement, ...], ...]
    seed: int | None = None


class UntilStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The body again and again until the condition holds, at most ``most`` times.

    The condition is asked before each round; rounds recorded before the step do not count.
    """

    condition: RecordCondition
    most: int
    body: tuple[Statement, ...]


class WhenStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """``body`` if the condition holds when the step is reached, else ``otherwise``."""

    condition: RecordCondition
    body: tuple[Statement, ...]
    otherwise: tuple[Statement, ...] = ()


class RotateStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Every player of the group has one turn (at each station, where there are several).

    A turn repeats the body whole: as often as its longest run fits into ``every_s``, or as its
    most balls fit into ``every_balls``; at least once. Exactly one of the two is set.
    """

    every_s: float | None
    every_balls: int | None
    body: tuple[Statement, ...]


class EachPlayerStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """The body once for each player, who is then the one on turn."""

    body: tuple[Statement, ...]


class StationStatement(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One station of a ``together``: its own launcher, its own clock."""

    name: str
    launcher: str
    body: tuple[Statement, ...]
    span: Span


class TogetherStatement(StatementNode, frozen=True, kw_only=True, gc=False):
    """Stations that run side by side; the step ends when the last of them has ended."""

    stations: tuple[StationStatement, ...]


Statement: TypeAlias = (
    SendStatement
    | ShowSpeedStatement
    | RestStatement
    | SayStatement
    | CollectStatement
    | RepeatStatement
    | ChooseStatement
    | ShuffleStatement
    | UntilStatement
    | WhenStatement
    | RotateStatement
    | EachPlayerStatement
    | TogetherStatement
)


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


class Program(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A whole program. ``sources`` has the text of every file it was read from, by name."""

    title: str
    source: str
    sources: Mapping[str, str]
    seed: int
    court: CourtDecl
    balls: BallsDecl
    launchers: tuple[LauncherDecl, ...]  # at least one
    group: GroupDecl
    keep_outs: tuple[KeepOut, ...]
    waivers: tuple[WaiverDecl, ...]
    requirements: tuple[RequirementDecl, ...]
    #: Every feed that the lesson sends or shows, or an expectation names, by name; in the order
    #: of their definition. Mirrored ones follow the feed they mirror.
    feeds: Mapping[str, FeedWish]
    lesson: tuple[Statement, ...]
    expectations: tuple[Expectation, ...]
    span: Span
