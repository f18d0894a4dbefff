"""Balls in the air: where a departure lands, by the flight model and the profile's scatter."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct, field

from feedscript.flight.motion.flights import Launches, land
from feedscript.launcher.kinematics import drive_names, throw_of
from feedscript.launcher.port import MouthThrow
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.scatter import mouth_samples
from feedscript.launcher.setting import Setting
from feedscript_simulator.feeder import Departure


class Landing(Struct, frozen=True):
    """Where a ball came down, from the mouth: ahead, and to the right of straight ahead."""

    feed_id: int
    ahead_m: float
    right_m: float
    flight_s: float
    speed_mps: float


class Balls(Struct):
    """Flies departures. Ball number and seed alone decide how each one strays."""

    profile: Profile
    seed: int
    _flown: int = field(default=0)

    def fly(self, departures: Sequence[Departure]) -> list[Landing]:
        """Landings of some departures, in one batch; they count on from those flown before."""
        if not departures:
            return []
        rows = [self._at_mouth(departure) for departure in departures]
        columns = np.array(rows).T
        speed, elevation, azimuth, top, side = columns
        height = self.profile.mouth_height_m
        launches = Launches.of(speed, elevation, azimuth, top_rpm=top, side_rpm=side, z_m=height)
        flights = land(launches)
        return [
            Landing(
                feed_id=departure.feed_id,
                ahead_m=float(flights.landing_y_m[i]),
                right_m=float(flights.landing_x_m[i]),
                flight_s=float(flights.flight_s[i]),
                speed_mps=float(speed[i]),
            )
            for i, departure in enumerate(departures)
        ]

    def throws(self, departures: Sequence[Departure]) -> tuple[MouthThrow, ...]:
        """How these balls left; they count on from those flown before."""
        return tuple(self._throw(departure) for departure in departures)

    def _throw(self, departure: Departure) -> MouthThrow:
        speed, elevation, azimuth, top, side = self._at_mouth(departure)
        return MouthThrow(
            feed_id=departure.feed_id,
            device_s=departure.device_ms / 1000,
            speed_mps=speed,
            elevation_deg=elevation,
            azimuth_deg=azimuth,
            top_rpm=top,
            side_rpm=side,
        )

    def _at_mouth(self, departure: Departure) -> list[float]:
        self._flown += 1
        drives = departure.drives[: len(drive_names(self.profile.drive))]
        pan, tilt, roll = (angle / 100 for angle in departure.pose_cdeg)
        setting = Setting(
            drives=tuple(float(d) for d in drives), pan_deg=pan, tilt_deg=tilt, roll_deg=roll
        )
        throw = throw_of(self.profile, setting)
        random = np.random.default_rng((self.seed, self._flown))
        sample: list[float] = mouth_samples(self.profile, throw, 1, random)[0].tolist()
        return sample
