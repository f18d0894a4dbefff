"""Throws of some feeds with their flights: to the first bounce, and on to the second when asked.

Each flight is worked out once, whoever asks for it: corridors, arrivals, pictures.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.bounce import Surface, rebound
from feedscript.flight.launches import Launches, Release
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, land
from feedscript.flight.motion.tracks import Tracks, Ways, track, ways
from feedscript.memo import Memo, content
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
    keys: tuple[Hashable, ...]  # the content that each feed's throws follow from
    memo: Memo

    def of(self, rows: Sequence[int]) -> Throws:
        """Those of some of the feeds."""
        lanes = (np.array(rows)[:, None] * ROWS + np.arange(ROWS)).ravel()
        names = Flights.__struct_fields__
        return Throws(
            tuple(self.feeds[row] for row in rows),
            self.launches.some(lanes),
            Flights(*(getattr(self.flights, name)[..., lanes] for name in names)),
            self.conditions,
            tuple(self.keys[row] for row in rows),
            self.memo,
        )

    @property
    def flight_s(self) -> Array:
        """How long each feed as it is flies to its first bounce."""
        return self.flights.flight_s[AS_AIMED]

    def before(self, points: int) -> Tracks:
        """The ways of the feeds as they are, up to the first bounce."""
        return Ways.joined(self.memo.each("before", self.keys, self._ways_before)).read(points)

    def all_before(self, points: int) -> Tracks:
        """The ways of every throw up to the first bounce."""
        return track(self.launches, self.conditions, points, self.flights.flight_s)

    def released(self, surface: Surface) -> Release:
        """Every ball just after its bounce."""
        return rebound(self.flights, self.conditions, surface).release

    def after(self, surface: Surface, points: int) -> Tracks:
        """The ways of the feeds as they are, from the first bounce to the second."""
        return self._after(surface).read(points)

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
        return self._after(surface).flight_s

    def _ways_before(self, rows: list[int]) -> list[Ways]:
        chosen = self.launches.some(AS_AIMED).some(np.array(rows))
        return _each(ways(chosen, self.conditions, self.flight_s[rows]))

    def _after(self, surface: Surface) -> Ways:
        keys = [(content(surface), key) for key in self.keys]

        def work(rows: list[int]) -> list[Ways]:
            release = self.released(surface).some(AS_AIMED).some(np.array(rows))
            return _each(ways(release, self.conditions))

        return Ways.joined(self.memo.each("after", keys, work))


def _each(several: Ways) -> list[Ways]:
    """The way of each ball by itself."""
    return [several.some(slice(row, row + 1)) for row in range(len(several.flight_s))]
