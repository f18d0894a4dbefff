"""What is wished of a batch of balls: where they land, how fast they leave, with which spin."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import ArrayLike

from feedscript.flight.launches import Launches
from feedscript.flight.models import Array, Lanes, Mask


class Targets(msgspec.Struct, frozen=True, eq=False):
    """Arrays of one length, made by :meth:`of`. Spin words are those of ``Launches``."""

    x_m: Array
    y_m: Array
    speed_mps: Array
    top_rpm: Array
    side_rpm: Array
    mouth_x_m: Array
    mouth_y_m: Array
    mouth_z_m: Array
    high: Mask  # the high arc instead of the low one

    @classmethod
    def of(
        cls,
        x_m: ArrayLike,
        y_m: ArrayLike,
        speed_mps: ArrayLike = np.nan,
        *,
        top_rpm: ArrayLike = 0.0,
        side_rpm: ArrayLike = 0.0,
        mouth_x_m: ArrayLike = 0.0,
        mouth_y_m: ArrayLike = -12.0,
        mouth_z_m: ArrayLike = 1.0,
        high: ArrayLike = False,
    ) -> Targets:
        """Targets from numbers or arrays that broadcast to one length."""
        parts = (x_m, y_m, speed_mps, top_rpm, side_rpm, mouth_x_m, mouth_y_m, mouth_z_m, high)
        arrays = np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in parts))
        targets = cls(*[np.ascontiguousarray(np.atleast_1d(array)) for array in arrays])
        return msgspec.structs.replace(targets, high=targets.high != 0)

    def some(self, chosen: Lanes) -> Targets:
        """These targets only; indices may repeat."""
        return Targets(*(getattr(self, name)[chosen] for name in self.__struct_fields__))

    def at_speed(self, speed_mps: Array) -> Targets:
        return msgspec.structs.replace(self, speed_mps=speed_mps)

    def __len__(self) -> int:
        return len(self.x_m)

    @property
    def distance_m(self) -> Array:
        """From the mouth to the landing, over the ground."""
        return np.hypot(self.x_m - self.mouth_x_m, self.y_m - self.mouth_y_m)

    @property
    def bearing_deg(self) -> Array:
        """The azimuth of the straight line from mouth to landing."""
        return np.degrees(np.arctan2(self.x_m - self.mouth_x_m, self.y_m - self.mouth_y_m))

    def launches(self, elevation_deg: Array, azimuth_deg: Array, *, by_wheels: bool) -> Launches:
        """The throws at these angles; ``by_wheels`` removes the spin along the throw."""
        launches = Launches.of(
            self.speed_mps,
            elevation_deg,
            azimuth_deg,
            top_rpm=self.top_rpm,
            side_rpm=self.side_rpm,
            x_m=self.mouth_x_m,
            y_m=self.mouth_y_m,
            z_m=self.mouth_z_m,
        )
        return launches.thrown_by_wheels() if by_wheels else launches
