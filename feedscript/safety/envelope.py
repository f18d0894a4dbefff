"""The room a feed's ball may take: its path with scatter, from the mouth to the second bounce.

The path is cut at equal horizontal distances from the mouth. At each cut stand the ball's centre,
and how far to either side, up and down a ball may pass that is ``sigma`` standard deviations out
in speed, elevation, azimuth and spin (each alone, then combined as the root of the sum of squares:
first-order propagation with finite steps, so that a bend in the response is not lost).
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Diameter of the largest ball of the rules (type 3): 7.30 cm, half of it. ITF Rules of Tennis,
#: appendix I. Foam balls for children are larger: 9.00 cm (from memory), so half of that is used.
BALL_RADIUS_M = 0.045
#: What a corridor drawn through cuts may lack beside the balls' true ways, most at a bounce; held
#: by a test against balls thrown one by one.
DRAWN_M = 0.02


#: Areas further than this from a corridor's bounding box are not measured more exactly.
NEAR_M = 1.0


class Envelope(msgspec.Struct, frozen=True):
    """One feed's path with scatter; every array has one entry a cut.

    ``side_m``, ``up_m`` and ``down_m`` are at the case's sigma. ``bounce`` is the index of the
    first cut after the first bounce.
    """

    centre_m: Array  # [cut, 3]
    side_m: Array
    up_m: Array
    down_m: Array
    speed_mps: Array
    time_s: Array
    bounce: int

    @property
    def highest_m(self) -> Array:
        """Upper edge of the ball at each cut."""
        return self.centre_m[:, 2] + self.up_m + BALL_RADIUS_M + DRAWN_M

    @property
    def lowest_m(self) -> Array:
        """Lower edge of the ball at each cut."""
        return self.centre_m[:, 2] - self.down_m - BALL_RADIUS_M - DRAWN_M

    @property
    def radius_m(self) -> Array:
        """Half the corridor's width at each cut, the ball included."""
        return self.side_m + BALL_RADIUS_M + DRAWN_M


def bounding_gap_m(envelope: Envelope, outline_m: Array) -> float:
    """A lower bound on the distance between the corridor and an area, from their boxes alone."""
    points = envelope.centre_m[:, :2]
    reach = float(np.max(envelope.radius_m))
    gap = np.maximum(
        np.min(outline_m, axis=0) - np.max(points, axis=0),
        np.min(points, axis=0) - np.max(outline_m, axis=0),
    )
    return float(np.hypot(*np.maximum(gap, 0.0))) - reach


def clearance_m(envelope: Envelope, outline_m: Array, height_m: float) -> float:
    """How far the corridor below ``height_m`` stays from an area on the ground.

    ``outline_m`` is [corner, 2]. Negative: the corridor enters the area by as much. Infinite when
    the ball never flies that low.
    """
    low = envelope.lowest_m < height_m
    pieces = low[:-1] | low[1:]
    if not np.any(pieces):
        return float("inf")
    if (far := bounding_gap_m(envelope, outline_m)) > NEAR_M:
        return far
    import shapely  # costs 30 ms, and most plans never come near anything

    area = shapely.Polygon(outline_m)
    points = envelope.centre_m[:, :2]
    lines = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1)[pieces])
    radius = np.maximum(envelope.radius_m[:-1], envelope.radius_m[1:])[pieces]
    gaps = shapely.distance(lines, area)
    inside = gaps == 0.0
    if np.any(inside):
        depth = shapely.distance(shapely.points(points[:-1][pieces][inside]), area.exterior)
        gaps[inside] = -depth
    return float(np.min(gaps - radius))


def apart_m(one: Envelope, other: Envelope) -> float:
    """How far two corridors stay apart, seen from above; negative where they cross.

    Exact where they come within ``NEAR_M`` of each other's boxes, a lower bound beyond.
    """
    outline = other.centre_m[:, :2]
    far = bounding_gap_m(one, outline) - float(np.max(other.radius_m))
    if far > NEAR_M:
        return far
    import shapely

    lines = [_pieces(envelope) for envelope in (one, other)]
    gaps = shapely.distance(lines[0][0][:, None], lines[1][0][None, :])
    return float(np.min(gaps - lines[0][1][:, None] - lines[1][1][None, :]))


def _pieces(envelope: Envelope) -> tuple[NDArray[np.object_], Array]:
    """The corridor's middle line in pieces, and half its width along each."""
    import shapely

    points = envelope.centre_m[:, :2]
    lines = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    return lines, np.maximum(envelope.radius_m[:-1], envelope.radius_m[1:])
