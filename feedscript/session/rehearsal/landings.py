"""Where the balls of a rehearsal came down: the stand-in's throws, flown on the plan's court."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import land
from feedscript.launcher.port import MouthThrow
from feedscript.launcher.profile.model import Profile
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.model import Plan


class Landed(msgspec.Struct, frozen=True, kw_only=True):
    """One ball's first bounce, in court axes."""

    feed_id: int
    landing_m: tuple[float, float]
    flight_s: float
    speed_mps: float  # at the mouth

    def miss_m(self, aim_m: tuple[float, float]) -> float:
        """How far from where it was aimed."""
        return math.dist(self.landing_m, aim_m)


def land_all(
    plan: Plan, profile: Profile, launcher: int, throws: Sequence[MouthThrow]
) -> tuple[Landed, ...]:
    """Every throw of one launcher, flown in one batch."""
    if not throws:
        return ()
    placed = plan.launchers[launcher]
    x_m, y_m, z_m = placed.mouth_m
    turned = np.array([throw.azimuth_deg + placed.heading_deg for throw in throws])
    flights = land(
        Launches.of(
            np.array([throw.speed_mps for throw in throws]),
            np.array([throw.elevation_deg for throw in throws]),
            turned,
            top_rpm=np.array([throw.top_rpm for throw in throws]),
            side_rpm=np.array([throw.side_rpm for throw in throws]),
            x_m=x_m,
            y_m=y_m,
            z_m=z_m,
        ),
        conditions_for(plan.court, plan.balls, profile),
    )
    return tuple(
        Landed(
            feed_id=throw.feed_id,
            landing_m=(float(flights.landing_x_m[i]), float(flights.landing_y_m[i])),
            flight_s=float(flights.flight_s[i]),
            speed_mps=throw.speed_mps,
        )
        for i, throw in enumerate(throws)
    )
