"""What a program declares around its lesson, in metres: court, balls, people, launchers.

All of it travels in the plan, so that the safety rules can be run again over a plan alone. A
length that was not declared is null, and a rule that needs it says so; nothing is filled in.
"""

from __future__ import annotations

import msgspec

#: How high somebody with a raised arm reaches. Design value.
PERSON_M = 2.2


class Court(msgspec.Struct, frozen=True, kw_only=True):
    """The court and its surroundings. ``kind`` is a key of ``feedscript.court.lines.COURTS``."""

    kind: str
    surface: str | None
    pace_rating: float | None = None
    restitution: float | None = None
    altitude_m: float
    air_c: float
    pressure_hpa: float | None = None  # null: the standard atmosphere at that altitude
    humidity: float | None = None  # 0 to 1
    wind_mps: tuple[float, float] = (0.0, 0.0)  # the way the air moves, in court axes
    fence_height_m: float | None = None
    fence_behind_baseline_m: float | None = None
    side_clearance_m: float | None = None  # doubles sideline to the next thing beside it
    roof_m: float | None = None  # null: open air
    neighbours: tuple[str, ...] = ()  # "ad", "deuce": sides with a court beside, as the receiver


class Area(msgspec.Struct, frozen=True, kw_only=True):
    """A named piece of ground: its outline in order, and how high what stands there reaches."""

    name: str
    outline_m: tuple[tuple[float, float], ...]
    height_m: float | None
    line: int


class Balls(msgspec.Struct, frozen=True, kw_only=True):
    """The kind of ball that is loaded, and how worn: 0 new to 1 bald."""

    kind: str  # "type 1" to "type 3", "high altitude", "stage red", "foam" …
    wear: float = 0.0


class Player(msgspec.Struct, frozen=True, kw_only=True):
    """One player as the program names them; null where the player is as the group is.

    Players of one ``kind`` get the same balls: they are alike in level and in the place where they
    wait. Those of kind 0 are as the group is, and so is whoever comes late.
    """

    name: str
    left_handed: bool = False
    stage: str | None = None
    level: str | None = None
    receiver_m: tuple[float, float] | None = None
    kind: int = 0
    language: str | None = None  # of what is called to them and told of them


def left_handed(players: tuple[Player, ...]) -> bool:
    """The hand that is fed while nobody in particular is on turn: left only if all are."""
    return bool(players) and all(player.left_handed for player in players)


def kind_fed(players: tuple[Player, ...]) -> int:
    """The kind that is fed while nobody in particular is on turn: theirs if all are alike."""
    kinds = {player.kind for player in players}
    return kinds.pop() if len(kinds) == 1 else 0


class Group(msgspec.Struct, frozen=True, kw_only=True):
    """Who is fed."""

    players: tuple[Player, ...]
    stage: str | None = None  # red, orange, green, yellow
    level: str | None = None  # beginner, improver, club, county, touring
    ages: tuple[int, int] | None = None
    keep_together: tuple[tuple[str, ...], ...] = ()
    keep_apart: tuple[tuple[str, ...], ...] = ()


class PlacedLauncher(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One launcher where it stands. ``heading_deg`` is where its pan 0 points, as an azimuth.

    ``sweep_deg``: how far left and right of there it swings by itself; its feeds have an aimed
    feed for each direction that stands for the band, and none of them is ever chosen.
    """

    name: str
    profile_name: str
    profile_hash: str
    mouth_m: tuple[float, float, float]
    heading_deg: float
    load: int | None  # balls put in; null when the program does not say
    line: int
    sweep_deg: tuple[float, float] | None = None
