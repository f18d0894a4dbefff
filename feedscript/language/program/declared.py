"""What a program declares around its lesson."""

from __future__ import annotations

from collections.abc import Mapping
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


class PlayerDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``player "…" { … }``: None where the player is as the group is."""

    name: str
    stage: str | None = None
    level: str | None = None
    receiver_m: Point | None = None
    language: str | None = None  # of calls to them and reports about them: a code of the tongues


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
    own: tuple[PlayerDecl, ...] = ()  # of whom more is said than their name
    subgroups: Mapping[str, tuple[str, ...]] = msgspec.field(default_factory=dict)
    span: Span | None = None
    spans: Mapping[str, Span] = msgspec.field(default_factory=dict)


class KeepOut(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """An area on the ground where no ball may pass below ``height_m``: coach, bench, collectors."""

    name: str
    outline_m: tuple[Point, ...]
    height_m: float | None
    span: Span


class SuitsDecl(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """``suits { … }``: what a search finds the program by; nothing of how it runs."""

    themes: tuple[str, ...] = ()
    stages: tuple[str, ...] = ()  # stages, then levels, each in its order
    players: tuple[int, int] | None = None  # from and to
    needs: tuple[str, ...] = ()
    span: Span | None = None


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
