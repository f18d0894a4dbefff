"""What a ball passes on its way: the sagging net, and the first entry into a closed-off area."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feedscript.court.net import Net
from feedscript.flight.launches import Launches, Release
from feedscript.flight.models import Array, Mask
from feedscript.flight.motion.conditions import DEFAULT_CONDITIONS, Conditions
from feedscript.flight.motion.events import Plane
from feedscript.flight.motion.flights import Crossings, Flights, cross


def net_gap_m(flights: Flights, net: Net, conditions: Conditions) -> Array:
    """Air between the ball and the net cord under it as it passes; NaN if it does not pass.

    The height of the net is taken where the ball crosses, as the net sags.
    """
    return flights.net_height_m - conditions.ball.radius_m - net.heights_m(flights.net_x_m)


def first_entry(
    balls: Launches | Release,
    outline_m: Sequence[tuple[float, float]],
    height_m: float,
    conditions: Conditions = DEFAULT_CONDITIONS,
) -> Crossings:
    """Where each ball's centre first comes into an area before its bounce; NaN if it does not.

    The area stands on the ground: its outline in order (not closed), convex or not, and how high
    it reaches. A ball released inside it is in at once. A bounce inside is not an entry; ask with
    ``inside`` on the landing for that.
    """
    release = balls.release()
    corners = np.asarray(outline_m, dtype=float)
    planes = [_side(a, b) for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True)]
    met = cross(release, [*planes, Plane((0.0, 0.0, 1.0), height_m, only_back=True)], conditions)
    place = np.full((3, len(release)), np.nan)
    velocity, time = place.copy(), np.full(len(release), np.nan)
    for index, crossing in enumerate(met):
        if index < len(planes):
            a, b = corners[index], corners[(index + 1) % len(corners)]
            share = (b - a) @ (crossing.place_m[:2] - a[:, None]) / ((b - a) @ (b - a))
            hit = (share >= 0) & (share <= 1) & (crossing.place_m[2] <= height_m)
        else:
            hit = inside(crossing.place_m[:2], corners)
        hit &= ~(crossing.time_s >= time)
        place[:, hit], velocity[:, hit] = crossing.place_m[:, hit], crossing.velocity_mps[:, hit]
        time[hit] = crossing.time_s[hit]
    start = release.place_m
    held = inside(start[:2], corners) & (start[2] <= height_m)
    place[:, held], velocity[:, held] = start[:, held], release.velocity_mps[:, held]
    time[held] = 0.0
    return Crossings(place, velocity, time)


def inside(points_m: Array, outline_m: Array) -> Mask:
    """Which points (2, n) lie inside a closed outline (k, 2): by counting crossings of a ray."""
    x, y = points_m
    within = np.zeros(len(x), dtype=bool)
    for (x1, y1), (x2, y2) in zip(outline_m, np.roll(outline_m, -1, axis=0), strict=True):
        spans = (y1 > y) != (y2 > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            within ^= spans & (x < x1 + (y - y1) * (x2 - x1) / (y2 - y1))
    return within


def _side(a: Array, b: Array) -> Plane:
    """The upright plane through two points on the ground."""
    along = (b - a) / np.hypot(*(b - a))
    normal = (float(along[1]), float(-along[0]), 0.0)
    return Plane(normal, float(normal[0] * a[0] + normal[1] * a[1]))
