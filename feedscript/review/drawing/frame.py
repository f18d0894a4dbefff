"""From metres to picture coordinates, the same scale in every direction."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import msgspec
import numpy as np

from feedscript.court.lines import Court
from feedscript.plan.scene import Area, PlacedLauncher
from feedscript.review.drawing.drawn_flights import Array, DrawnFlight
from feedscript.review.drawing.labels import Box
from feedscript.review.drawing.svg import Point

WIDTH = 1200.0
MARGIN_LEFT = 58.0
MARGIN_RIGHT = 22.0


class Reach(msgspec.Struct, frozen=True):
    """What of the court a picture shows, in metres: along (y), across (x) and up."""

    y_min_m: float
    y_max_m: float
    x_min_m: float
    x_max_m: float
    z_max_m: float


class Frame(msgspec.Struct, frozen=True):
    """A strip of the picture, the launcher at its left and the receiver at its right.

    Seen from above, the launcher's right (+x, the receiver's ad side) points down.
    """

    reach: Reach
    top: float

    @property
    def scale(self) -> float:
        """Picture units a metre."""
        return (WIDTH - MARGIN_LEFT - MARGIN_RIGHT) / (self.reach.y_max_m - self.reach.y_min_m)

    @property
    def plan_height(self) -> float:
        return (self.reach.x_max_m - self.reach.x_min_m) * self.scale

    @property
    def side_height(self) -> float:
        return self.reach.z_max_m * self.scale

    def along(self, y_m: float) -> float:
        return MARGIN_LEFT + (y_m - self.reach.y_min_m) * self.scale

    def above(self, x_m: float, y_m: float) -> Point:
        """A point of the ground, seen from above."""
        return (self.along(y_m), self.top + (x_m - self.reach.x_min_m) * self.scale)

    def aside(self, y_m: float, z_m: float) -> Point:
        """A point of the air, seen from the deuce side of the launcher."""
        return (self.along(y_m), self.top + (self.reach.z_max_m - z_m) * self.scale)

    def while_inside(self, path_m: Array) -> Array:
        """The path (n, 3) up to where it leaves the frame."""
        reach = self.reach
        outside = (
            (path_m[:, 1] > reach.y_max_m)
            | (path_m[:, 0] < reach.x_min_m)
            | (path_m[:, 0] > reach.x_max_m)
            | (path_m[:, 2] > reach.z_max_m)
        )
        ends = np.flatnonzero(outside)
        return path_m[: ends[0]] if ends.size else path_m

    def box(self, height: float) -> Box:
        return Box(MARGIN_LEFT, self.top, WIDTH - MARGIN_RIGHT, self.top + height)


def reach_of(
    court: Court,
    launchers: Sequence[PlacedLauncher],
    flights: Sequence[DrawnFlight],
    areas: Sequence[Area],
) -> Reach:
    """Room for the court, everything declared around it, and every flight."""
    half = court.doubles_half_width_m or court.half_width_m
    ys = [-court.half_length_m - 1.6, court.half_length_m + 2.4]
    wide = max(half, court.net.support_x_m) + 0.9
    xs = [-wide, wide]
    for x_m, y_m in _grounds(launchers, flights, areas):
        ys += [y_m - 1.3, y_m + 1.0]
        xs += [x_m - 0.7, x_m + 0.7]
    tops = [float(path.max()) for one in flights for path in [one.path_m[:, 2]] if len(path)]
    return Reach(min(ys), max(ys), min(xs), max(xs), math.ceil(max([2.2, *tops]) + 0.7))


def _grounds(
    launchers: Sequence[PlacedLauncher], flights: Sequence[DrawnFlight], areas: Sequence[Area]
) -> Iterable[tuple[float, float]]:
    yield from ((launcher.mouth_m[0], launcher.mouth_m[1]) for launcher in launchers)
    yield from (one.feed.landing_m for one in flights)
    yield from (one.feed.receiver_m for one in flights if one.feed.receiver_m is not None)
    for area in areas:
        yield from area.outline_m
