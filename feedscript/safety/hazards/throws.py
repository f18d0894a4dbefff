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
from feedscript.flight.motion.tracks import Tracks, Ways, ways
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

    def before(self, points: int, surface: Surface | None = None) -> Tracks:
        """The ways of the feeds as they are, up to the first bounce.

        On a ``surface`` the ways after it are flown in the same batch: whoever asks for both says
        it.
        """
        if surface is not None:
            return self._both(surface)[0].read(points)
        return Ways.joined(self.memo.each("before", self.keys, self._ways_before)).read(points)

    def released(self, surface: Surface) -> Release:
        """Every ball just after its bounce."""
        return rebound(self.flights, self.conditions, surface).release

    def after(self, surface: Surface, points: int) -> Tracks:
        """The ways of the feeds as they are, from the first bounce to the second."""
        return self._both(surface)[1].read(points)

    def through(self, surface: Surface, points: int) -> tuple[Tracks, Tracks]:
        """The ways of every throw up to the first bounce, and from there to the second."""
        released = self.released(surface)
        strayed = np.arange(len(released)) % ROWS != 0
        seconds = np.empty(len(released))
        seconds[AS_AIMED] = self.after_s(surface)
        seconds[strayed] = land(released.some(strayed), self.conditions).flight_s
        self.memo.go_on()
        before, after = self._flown(
            self.launches.release(), self.flights.flight_s, released, seconds
        )
        self.memo.go_on()
        tracks = before.read(points)
        self.memo.go_on()
        return tracks, after.read(points)

    def after_s(self, surface: Surface) -> Array:
        """How long each feed as it is flies from the first bounce to the second."""
        return self._both(surface)[1].flight_s

    def _ways_before(self, rows: list[int]) -> list[Ways]:
        chosen = self.launches.some(AS_AIMED).some(np.array(rows))
        return _each(ways(chosen, self.conditions, self.flight_s[rows]))

    def _both(self, surface: Surface) -> tuple[Ways, Ways]:
        """The ways of the feeds as they are, before and after the first bounce."""
        keys = [(content(surface), key) for key in self.keys]

        def work(rows: list[int]) -> list[tuple[Ways, Ways]]:
            chosen = np.array(rows)
            balls = self.launches.some(AS_AIMED).some(chosen).release()
            released = self.released(surface).some(AS_AIMED).some(chosen)
            after_s = land(released, self.conditions).flight_s
            self.memo.go_on()
            before, after = self._flown(balls, self.flight_s[rows], released, after_s)
            return list(zip(_each(before), _each(after), strict=True))

        found = self.memo.each("ways", keys, work)
        return Ways.joined([before for before, _ in found]), Ways.joined([on for _, on in found])

    def _flown(
        self, balls: Release, before_s: Array, released: Release, after_s: Array
    ) -> tuple[Ways, Ways]:
        """The ways of balls, and of the same balls after their bounce, flown in one batch."""
        seconds = np.concatenate([before_s, after_s])
        both = ways(Release.joined([balls, released]), self.conditions, seconds)
        return both.some(slice(None, len(balls))), both.some(slice(len(balls), None))


def _each(several: Ways) -> list[Ways]:
    """The way of each ball by itself."""
    return [several.some(slice(row, row + 1)) for row in range(len(several.flight_s))]
