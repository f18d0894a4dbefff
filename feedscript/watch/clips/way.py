"""One ball's way through a film's pictures: where it should be seen, and where it came down."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.models import Array
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.paths import Paths, paths

#: A ball is shown until so long after its bounce: as long as its flight is fitted, about.
_AFTER_S = 0.35
#: The square of the Mahalanobis distance within which 95 of 100 places lie.
_WITHIN_95 = 5.991


class Way(msgspec.Struct, frozen=True, eq=False):
    """The fitted flight of a ball that was measured; the one asked for where it was not.

    ``landing_px`` is the mark on the ground and ``region_px``, shape (n, 2), the outline of the
    places where it is in 95 of 100 cases; None for a ball that was not measured.
    """

    number: int
    camera: Camera
    flight: Paths
    radius_m: float
    landing_px: tuple[float, float]
    region_px: Array | None

    @property
    def measured(self) -> bool:
        return self.region_px is not None

    @property
    def from_s(self) -> float:
        """The film's time at which it leaves."""
        return float(self.flight.left_s[0])

    @property
    def bounce_s(self) -> float:
        return float(self.flight.left_s[0] + self.flight.flight_s[0])

    @property
    def to_s(self) -> float:
        return self.bounce_s + _AFTER_S

    def px(self, times_s: Array) -> Array:
        """Where it is in pictures that begin at these times (m,): shape (m, 2), NaN where it is
        not in the picture."""
        camera = self.camera
        px = project(camera, self.flight.at(times_s)[0])
        if camera.row_time_s:
            down = np.where(np.isfinite(px[:, 1]), px[:, 1], camera.height_px / 2)
            px = project(camera, self.flight.at(times_s + camera.row_time_s * down)[0])
        inside = ((px > 0) & (px < (camera.width_px - 1, camera.height_px - 1))).all(-1)
        px[~inside] = np.nan
        return px

    def radius_px(self, time_s: float) -> float:
        """How large it is then; that of the bounce where it does not fly."""
        camera = self.camera
        places = self.flight.at(np.array([time_s, self.bounce_s]))[0]
        depths = (places - camera.position_m) @ camera.axes[2]
        depth = next((one for one in depths if np.isfinite(one)), 20.0)
        return float(camera.focal_px * self.radius_m / max(depth, 0.5))


def way_of(camera: Camera, expected: Expected, one: Measured | NotSeen) -> Way | None:
    """A ball's way; None where no picture can show it, since it does not come down."""
    found = one.unknowns if isinstance(one, Measured) else expected.middle
    flight = paths(found[None], expected)
    if not np.isfinite(flight.landing_m).all():
        return None
    middle = one.landing_m if isinstance(one, Measured) else flight.landing_m[0]
    across, down = _on_the_ground(camera, np.array([middle]))[0].tolist()
    return Way(
        number=expected.number,
        camera=camera,
        flight=flight,
        radius_m=expected.conditions.ball.radius_m,
        landing_px=(across, down),
        region_px=_region_px(camera, one) if isinstance(one, Measured) else None,
    )


def _region_px(camera: Camera, one: Measured) -> Array:
    turns = np.linspace(0, 2 * np.pi, 73)
    circle = np.sqrt(_WITHIN_95) * np.column_stack([np.cos(turns), np.sin(turns)])
    spread, axes = np.linalg.eigh(np.array(one.covariance_m2))
    away = circle * np.sqrt(np.maximum(spread, 0.0)) @ axes.T
    return _on_the_ground(camera, np.add(one.landing_m, away))


def _on_the_ground(camera: Camera, places_m: Array) -> Array:
    return project(camera, np.column_stack([places_m, np.zeros(len(places_m))]))
