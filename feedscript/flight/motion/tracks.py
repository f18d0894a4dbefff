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
        places, velocities = np.empty((2, points, 3, len(seconds)))
        for index, poly in enumerate(self.pieces):
            inside = np.flatnonzero(piece == index)
            s = (shares[inside] - index)[:, None, None]
            places[inside] = _read(poly, s)
            velocities[inside] = _read(slope_of(poly), s) / seconds
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
    seconds = flight_s / _PIECES
    equations, wind = conditions.equations(release.spin_radps), conditions.wind[:, None]
    state = equations.state(release.velocity_mps - wind)
    place, rate = release.place_m, equations.rate(state)
    pieces = []
    for _ in range(_PIECES):
        gone = step(equations, state, rate, seconds)
        after, after_rate = gone.state, equations.rate(gone.state)
        after_place = place + gone.way + wind * seconds
        pieces.append(
            quintic(
                (place, state[:3] + wind, rate[:3]),
                (after_place, after[:3] + wind, after_rate[:3]),
                seconds,
            )
        )
        state, rate, place = after, after_rate, after_place
    return Ways(np.stack(pieces), flight_s)


def _read(poly: Array, s: Array) -> Array:
    """The polynomials (k, 3, n) at every s (m, 1, 1): (m, 3, n)."""
    spread = np.broadcast_to(poly[:, None], (len(poly), len(s), *poly.shape[1:]))
    return value_at(spread, np.broadcast_to(s, spread.shape[1:]))
