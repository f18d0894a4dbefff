"""The plan: a small tree of steps over a table of aimed feeds.

The engine interprets this tree and never aims again. Serialised as canonical JSON (see
``feedscript.plan.canonical``), the same program, profile and seed give the same bytes everywhere.

Time in a plan: every station has a cursor. A ``Send`` leaves ``after_s`` past the cursor and moves
the cursor there; a ``Rest`` moves it on; what a person takes (``Collect``, ``ShowSpeed``) is not
counted in any bound, and the cursor goes on from the moment the launcher is armed again.
"""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from feedscript.launcher.setting import Setting

PLAN_VERSION = 1


class Ellipse(msgspec.Struct, frozen=True, kw_only=True):
    """One-sigma landing scatter: half axes, and the turn of the major one from x towards y."""

    major_m: float
    minor_m: float
    turn_deg: float


class AimedFeed(msgspec.Struct, frozen=True, kw_only=True):
    """One feed, aimed: what is asked of the launcher and what the ball then does."""

    name: str
    launcher: int  # index into Plan.launchers
    landing_m: tuple[float, float]
    speed_mps: float
    top_rpm: float  # about the horizontal axis; backspin is negative
    side_rpm: float  # about the vertical; positive curves to the ad side (+x)
    elevation_deg: float
    azimuth_deg: float
    setting: Setting
    net_clearance_m: float
    flight_s: float
    apex_m: float
    speed_at_bounce_mps: float
    scatter: Ellipse
    line: int  # where the program defines it


class Send(msgspec.Struct, frozen=True, kw_only=True, tag_field="step", tag="send"):
    """One ball, ``after_s`` past the cursor. A left-hander on turn gets ``mirrored`` if set."""

    feed: int
    after_s: float
    line: int
    mirrored: int | None = None


class ShowSpeed(msgspec.Struct, frozen=True, kw_only=True, tag_field="step", tag="show-speed"):
    """One ball watched from the side with nobody in front; a person confirms what was seen."""

    feed: int
    line: int


class Rest(msgspec.Struct, frozen=True, kw_only=True, tag_field="step", tag="rest"):
    """Nothing leaves for this long."""

    seconds: float
    line: int


class Say(msgspec.Struct, frozen=True, kw_only=True, tag_field="step", tag="say"):
    """Words for the players; takes no time of the cursor."""

    text: str
    line: int


class Collect(msgspec.Struct, frozen=True, kw_only=True, tag_field="step", tag="collect"):
    """The launcher is made safe, balls are picked up, a person arms it again."""

    line: int


class Repeat(msgspec.Struct, frozen=True, kw_only=True, tag_field="step", tag="repeat"):
    """The body, so many times."""

    times: int
    body: tuple[Step, ...]
    line: int


Step: TypeAlias = Send | ShowSpeed | Rest | Say | Collect | Repeat


class Bounds(msgspec.Struct, frozen=True, kw_only=True):
    """What any run of the plan lies within."""

    balls: tuple[int, int]
    time_s: tuple[float, float]
    fastest_mps: float


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the engine needs, and nothing it must work out."""

    version: int
    title: str
    program_hash: str
    profile_hash: str
    seed: int
    feeds: tuple[AimedFeed, ...]
    steps: tuple[Step, ...]
    bounds: Bounds
