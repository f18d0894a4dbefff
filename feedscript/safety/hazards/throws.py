"""Throws of some feeds with their flights: to the first bounce, and on to the second when asked.

Each flight is worked out once, whoever asks for it: corridors, arrivals, pictures.
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.bounce import Surface, rebound
from feedscript.flight.launches import Launches, Release
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, land
from feedscript.flight.motion.tracks import Tracks, track
from feedscript.safety.hazards.strays import JOINT, SINGLE

Array = NDArray[np.float64]

#: Throws of one feed, and which of all of them are the feeds as they are.
ROWS = SINGLE + JOINT
AS_AIMED = slice(0, None, ROWS)


class Throws(msgspec.Struct, frozen=True, eq=False, dict=True):
    """The throws of some feeds and their flights: ROWS a feed, together."""

    feeds: tuple[int, ...]  # their indices in the plan
    launches: Launches
    flights: Flights
    conditions: Conditions

    @property
    def flight_s(self) -> Array:
        """How long each feed as it is flies to its first bounce."""
        return self.flights.flight_s[AS_AIMED]

    def before(self, points: int) -> Tracks:
        """The ways of the feeds as they are, up to the first bounce."""
        return track(self.launches.some(AS_AIMED), self.conditions, points, self.flight_s)

    def all_before(self, points: int) -> Tracks:
        """The ways of every throw up to the first bounce."""
        return track(self.launches, self.conditions, points, self.flights.flight_s)

    def released(self, surface: Surface) -> Release:
        """Every ball just after its bounce."""
        return rebound(self.flights, self.conditions, surface).release

    def after(self, surface: Surface, points: int) -> Tracks:
        """The ways of the feeds as they are, from the first bounce to the second."""
        release = self.released(surface).some(AS_AIMED)
        return track(release, self.conditions, points, self.after_s(surface))

    def all_after(self, surface: Surface, points: int) -> Tracks:
        """The ways of every throw from the first bounce to the second."""
        release = self.released(surface)
        strayed = np.arange(len(release)) % ROWS != 0
        seconds = np.empty(len(release))
        seconds[AS_AIMED] = self.after_s(surface)
        seconds[strayed] = land(release.some(strayed), self.conditions).flight_s
        return track(release, self.conditions, points, seconds)

    def after_s(self, surface: Surface) -> Array:
        """How long each feed as it is flies from the first bounce to the second."""
        known: dict[Surface, Array] = self.__dict__.setdefault("second_s", {})
        if surface not in known:
            release = self.released(surface).some(AS_AIMED)
            known[surface] = land(release, self.conditions).flight_s
        return known[surface]
