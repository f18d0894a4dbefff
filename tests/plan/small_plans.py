"""Small plans for the tests of this floor: every declaration invented, feeds named by letter."""

from __future__ import annotations

from feedscript.launcher.setting import Setting
from feedscript.plan.model import (
    PLAN_VERSION,
    AimedFeed,
    Bounds,
    Ellipse,
    Plan,
    Progression,
    Rest,
    Send,
    Step,
)
from feedscript.plan.scene import Balls, Court, Group, PlacedLauncher, Player


def feed(name: str, launcher: int = 0, speed_mps: float = 20.0) -> AimedFeed:
    return AimedFeed(
        name=name,
        wish=name,
        launcher=launcher,
        landing_m=(1.0, 9.0),
        speed_mps=speed_mps,
        top_rpm=0.0,
        side_rpm=0.0,
        elevation_deg=5.0,
        azimuth_deg=2.0,
        setting=Setting(drives=(2000.0, 2000.0), pan_deg=2.0, tilt_deg=5.0),
        net_clearance_m=0.8,
        flight_s=1.1,
        apex_m=2.0,
        speed_at_bounce_mps=15.0,
        scatter=Ellipse(major_m=0.3, minor_m=0.2, turn_deg=90.0),
        line=1,
    )


def launcher(name: str) -> PlacedLauncher:
    return PlacedLauncher(
        name=name,
        profile_name="invented",
        profile_hash="0" * 64,
        mouth_m=(0.0, -11.9, 1.0),
        heading_deg=0.0,
        load=None,
        line=1,
    )


def plan(
    *steps: Step,
    feeds: tuple[AimedFeed, ...] = (feed("a"), feed("b"), feed("c")),
    players: tuple[Player, ...] = (),
    seed: int = 1,
    most_balls: int = 1_000_000,
    progressions: tuple[Progression, ...] = (),
) -> Plan:
    count = 1 + max((each.launcher for each in feeds), default=0)
    return Plan(
        version=PLAN_VERSION,
        title="",
        program_hash="",
        seed=seed,
        flight_model="none",
        court=Court(kind="singles", surface="hard", altitude_m=0.0, air_c=20.0),
        balls=Balls(kind="type 2"),
        group=Group(players=players),
        launchers=tuple(launcher(f"l{index}") for index in range(count)),
        feeds=feeds,
        steps=steps,
        progressions=progressions,
        bounds=Bounds(balls=(0, most_balls), time_s=(0.0, 0.0), fastest_mps=0.0),
    )


def send(feed: int, after_s: float = 1.0, most_s: float | None = None) -> Send:
    return Send(feeds=(feed,), after_s=(after_s, after_s if most_s is None else most_s), line=1)


def rest(seconds: float) -> Rest:
    return Rest(seconds=seconds, line=1)
