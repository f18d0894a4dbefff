"""Aimed plans for the tests of this floor, built without a program: every scene is invented."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import msgspec
import numpy as np

from feedscript.court.lines import COURTS
from feedscript.flight.aim.aiming import Targets, aim
from feedscript.launcher.kinematics import setting_for
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.scatter import ellipse_of, ground_covariance, mouth_sigmas
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.plan.aiming.flying import FLIGHT_MODEL, conditions_for
from feedscript.plan.canonical import settled
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import (
    PLAN_VERSION,
    AimedFeed,
    Bounds,
    Collect,
    Ellipse,
    Plan,
    Send,
    ShowSpeed,
    Step,
)
from feedscript.plan.scene import Balls, Court, Group, PlacedLauncher, Player
from tests.launcher.examples import garage

COURT = Court(kind="singles", surface="hard", altitude_m=100.0, air_c=18.0)
GROUP = Group(players=(Player(name="Ada"), Player(name="Ben")), level="club")
PROFILE = garage()
MOUTH_M = (0.0, -12.0, PROFILE.mouth_height_m)


@dataclass(frozen=True)
class Wish:
    """A feed as a test wishes it."""

    name: str = "deep"
    land_m: tuple[float, float] = (1.0, 9.0)
    speed_mps: float = 21.0
    top_rpm: float = 600.0
    side_rpm: float = 0.0
    high: bool = False
    receiver_m: tuple[float, float] | None = None
    within_m: float | None = None
    launcher: int = 0


def launcher(
    profile: Profile = PROFILE,
    mouth_m: tuple[float, float, float] = MOUTH_M,
    name: str = "",
    load: int | None = 60,
    heading_deg: float = 0.0,
) -> PlacedLauncher:
    return PlacedLauncher(
        name=name,
        profile_name=profile.name,
        profile_hash=profile_hash(profile),
        mouth_m=mouth_m,
        heading_deg=heading_deg,
        load=load,
        line=2,
    )


@cache
def aimed(
    wish: Wish, place: PlacedLauncher, profile: Profile, court: Court, balls: Balls
) -> AimedFeed:
    """The wish aimed as the project aims it; its setting follows even past the profile's limits."""
    conditions = conditions_for(court, balls, profile)
    x, y, z = place.mouth_m
    aiming = aim(
        Targets.of(
            *wish.land_m,
            wish.speed_mps,
            top_rpm=wish.top_rpm,
            side_rpm=wish.side_rpm,
            mouth_x_m=x,
            mouth_y_m=y,
            mouth_z_m=z,
            high=wish.high,
        ),
        conditions,
    )
    assert aiming.reachable[0], wish
    throw = Throw(
        speed_mps=wish.speed_mps,
        elevation_deg=float(aiming.elevation_deg[0]),
        azimuth_deg=float(aiming.azimuth_deg[0]),
        top_rpm=wish.top_rpm,
        side_rpm=wish.side_rpm,
    )
    setting = setting_for(profile, throw, place.heading_deg)
    assert isinstance(setting, Setting), setting
    flights = aiming.flights
    jacobian = np.stack([getattr(aiming.sensitivity, name)[:, 0] for name in _QUANTITIES], axis=-1)
    ellipse = ellipse_of(ground_covariance(jacobian, mouth_sigmas(profile, throw)))
    net = COURTS[court.kind].net.height_m(float(flights.net_x_m[0]))
    return AimedFeed(
        name=wish.name,
        wish=wish.name,
        launcher=wish.launcher,
        landing_m=(float(flights.landing_x_m[0]), float(flights.landing_y_m[0])),
        speed_mps=wish.speed_mps,
        top_rpm=wish.top_rpm,
        side_rpm=wish.side_rpm,
        elevation_deg=throw.elevation_deg,
        azimuth_deg=throw.azimuth_deg,
        setting=setting,
        net_clearance_m=float(flights.net_height_m[0]) - conditions.ball.radius_m - net,
        flight_s=float(flights.flight_s[0]),
        apex_m=float(flights.apex_m[0]),
        speed_at_bounce_mps=float(flights.speed_at_bounce_mps[0]),
        scatter=Ellipse(
            major_m=ellipse.major_m, minor_m=ellipse.minor_m, turn_deg=ellipse.turn_deg
        ),
        line=3,
        receiver_m=wish.receiver_m,
        within_m=wish.within_m,
    )


_QUANTITIES = ("speed_mps", "elevation_deg", "azimuth_deg", "top_rpm", "side_rpm")


def scene(
    *wishes: Wish,
    steps: tuple[Step, ...] | None = None,
    court: Court = COURT,
    balls: Balls | None = None,
    launchers: tuple[PlacedLauncher, ...] | None = None,
    profiles: tuple[Profile, ...] = (PROFILE,),
    **changes: Any,
) -> Plan:
    """A settled plan of these wishes; without steps, each is shown and then sent."""
    balls = balls or Balls(kind="type 2")
    places = launchers or (launcher(),)
    wishes = wishes or (Wish(),)
    feeds = tuple(
        aimed(wish, places[wish.launcher], profiles[wish.launcher], court, balls) for wish in wishes
    )
    fields: dict[str, Any] = {
        "version": PLAN_VERSION,
        "title": "Invented",
        "program_hash": "0" * 64,
        "seed": 1,
        "flight_model": FLIGHT_MODEL,
        "court": court,
        "balls": balls,
        "group": GROUP,
        "launchers": places,
        "feeds": feeds,
        "steps": steps or lesson(len(feeds)),
        "bounds": Bounds(balls=(0, 0), time_s=(0.0, 0.0), fastest_mps=0.0, fastest_least_mps=0.0),
    }
    return bounded(Plan(**(fields | changes)))


def bounded(plan: Plan) -> Plan:
    """The plan with the bounds of its tree, settled."""
    return settled(msgspec.structs.replace(plan, bounds=bounds(plan)))


def lesson(feeds: int) -> tuple[Step, ...]:
    shown = tuple(ShowSpeed(feed=index, line=10) for index in range(feeds))
    sent = tuple(Send(feeds=(index,), after_s=(6.0, 6.0), line=11) for index in range(feeds))
    return (*shown, *sent, Collect(line=12))
