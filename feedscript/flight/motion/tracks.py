"""Whole paths: where balls are at every moment, for pictures and for rules that look at places.

The way from release to bounce is cut into equal steps; between them the quintic through place,
velocity and acceleration of both ends is read (within 0.1 mm of the path for steps this short).
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.flight.launches import Launches, Release
from feedscript.flight.models import Array
from feedscript.flight.motion.conditions import DEFAULT_CONDITIONS, Conditions
from feedscript.flight.motion.equations_of_motion import step
from feedscript.flight.motion.flights import land
from feedscript.flight.motion.hermite import quintic, slope_of, value_at

_PIECES = 8
#: A step of order 8 may go so many pieces of a flight that is no longer than this: it is off by a
#: hundredth of a millimetre then, and by some millimetres where a flight of four seconds is so cut.
_AT_ONCE, _LONG_S = 2, 3.0


class Tracks(msgspec.Struct, frozen=True, eq=False):
    """Paths evenly in time: place and velocity (n, points, 3), time (n, points).

    A ball that does not come down has NaN throughout.
    """

    place_m: Array
    velocity_mps: Array
    time_s: Array


class Ways(msgspec.Struct, frozen=True, eq=False):
    """The ways of n balls, to be read at as many points as anybody likes.

    ``pieces`` (_PIECES, 6, 3, n) are the quintics, ``flight_s`` (n) when each ball comes down.
    """

    pieces: Array
    flight_s: Array

    def read(self, points: int) -> Tracks:
        """The path of every ball, ends included. ValueError for fewer than 2 points."""
        if points < 2:
            raise ValueError("a path needs its two ends at least")
        seconds = self.flight_s / _PIECES
        shares = np.linspace(0, 1, points) * _PIECES
        piece = np.minimum(shares.astype(int), _PIECES - 1)
        poly, s = self.pieces[piece].swapaxes(0, 1), (shares - piece)[:, None, None]
        places, velocities = value_at(poly, s), value_at(slope_of(poly), s) / seconds
        times = self.flight_s[:, None] * np.linspace(0, 1, points)
        return Tracks(places.transpose(2, 0, 1), velocities.transpose(2, 0, 1), times)

    def some(self, chosen: slice) -> Ways:
        """Those of some of the balls."""
        return Ways(self.pieces[..., chosen], self.flight_s[chosen])

    @classmethod
    def joined(cls, parts: Sequence[Ways]) -> Ways:
        """The ways of one batch of balls after another."""
        return cls(
            np.concatenate([part.pieces for part in parts], axis=-1),
            np.concatenate([part.flight_s for part in parts]),
        )


def track(
    balls: Launches | Release,
    conditions: Conditions = DEFAULT_CONDITIONS,
    points: int = 60,
    flight_s: Array | None = None,
) -> Tracks:
    """The path of every ball from release to bounce. ValueError for fewer than 2 points.

    ``flight_s`` is when each comes down, where that is known already.
    """
    return ways(balls, conditions, flight_s).read(points)


def ways(balls: Launches | Release, conditions: Conditions, flight_s: Array | None = None) -> Ways:
    """The way of every ball from release to bounce; ``flight_s`` as of :func:`track`."""
    release = balls.release()
    if flight_s is None:
        flight_s = land(release, conditions).flight_s
    long = np.flatnonzero(flight_s > _LONG_S)
    found = _flown(release, conditions, flight_s, _AT_ONCE if len(long) < len(flight_s) else 1)
    if 0 < len(long) < len(flight_s):
        found.pieces[..., long] = _flown(release.some(long), conditions, flight_s[long], 1).pieces
    return found


def _flown(release: Release, conditions: Conditions, flight_s: Array, at_once: int) -> Ways:
    """The ways, of which so many ends of pieces are reached from the same place, each by a step of
    its own: steps of one batch cost what one of them does."""
    seconds = flight_s / _PIECES
    equations, wind = conditions.equations(release.spin_radps), conditions.wind[:, None]
    state = equations.state(release.velocity_mps - wind)
    place, rate = release.place_m, equations.rate(state)
    lanes = np.tile(np.arange(len(seconds)), at_once)
    later = np.outer(np.arange(1, at_once + 1), seconds).ravel()
    equations, pieces = equations.of_lanes(lanes), []
    for _ in range(_PIECES // at_once):
        gone = step(equations, state[:, lanes], rate[:, lanes], later)
        gone_m = gone.way + wind * later
        states, rates, places = (
            np.concatenate([start[:, None], ends.reshape(len(ends), at_once, -1)], axis=1)
            for start, ends in (
                (state, gone.state),
                (rate, equations.rate(gone.state)),
                (place, place[:, lanes] + gone_m),
            )
        )
        at = places, states[:3] + wind[..., None], rates[:3]
        polys = quintic(_some(at, slice(-1)), _some(at, slice(1, None)), seconds)
        pieces.append(np.moveaxis(polys, 2, 0))
        state, rate, place = states[:, -1], rates[:, -1], places[:, -1]
    return Ways(np.concatenate(pieces), flight_s)


def _some(at: tuple[Array, Array, Array], chosen: slice) -> tuple[Array, Array, Array]:
    place, velocity, push = at
    return place[:, chosen], velocity[:, chosen], push[:, chosen]
