"""How balls leave: in the words of a launcher, and as places, velocities and spins."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import ArrayLike

from feedscript.flight.models import Array, Lanes

RPM = np.pi / 30  # rad/s


class Release(msgspec.Struct, frozen=True, eq=False):
    """Balls at the moment they are let go, in court axes; each array is (3, n)."""

    place_m: Array  # of the centre
    velocity_mps: Array  # over the ground
    spin_radps: Array

    def __len__(self) -> int:
        return int(self.place_m.shape[1])

    def some(self, chosen: Lanes | slice) -> Release:
        """These balls only (indices, mask or slice)."""
        return Release(
            self.place_m[:, chosen], self.velocity_mps[:, chosen], self.spin_radps[:, chosen]
        )

    def release(self) -> Release:
        return self

    @classmethod
    def joined(cls, several: Sequence[Release]) -> Release:
        """One batch of balls after another."""
        names = cls.__struct_fields__
        return cls(*(np.concatenate([getattr(one, n) for one in several], axis=1) for n in names))


def _of_one_length(arrays: Sequence[Array]) -> list[Array]:
    """Arrays, and numbers as often as there are balls; mostly without numpy's slow broadcasting."""
    shape = max((array.shape for array in arrays), key=len) or (1,)
    if len(shape) == 1 and all(array.shape in (shape, ()) for array in arrays):
        return [
            np.ascontiguousarray(array) if array.ndim else np.full(shape, array) for array in arrays
        ]
    return [np.ascontiguousarray(np.atleast_1d(one)) for one in np.broadcast_arrays(*arrays)]


class Launches(msgspec.Struct, frozen=True, eq=False):
    """How balls leave: arrays of one length, made by :meth:`of`.

    ``azimuth_deg`` 0 is along +y, positive to the right (+x). ``top_rpm`` is about the horizontal
    axis left of the throw (ball dips; back is negative), ``side_rpm`` about the vertical (positive
    curves towards +x), ``gyro_rpm`` about the line of throw itself.
    """

    speed_mps: Array
    elevation_deg: Array
    azimuth_deg: Array
    top_rpm: Array
    side_rpm: Array
    gyro_rpm: Array
    x_m: Array
    y_m: Array
    z_m: Array

    @classmethod
    def of(
        cls,
        speed_mps: ArrayLike,
        elevation_deg: ArrayLike,
        azimuth_deg: ArrayLike = 0.0,
        *,
        top_rpm: ArrayLike = 0.0,
        side_rpm: ArrayLike = 0.0,
        gyro_rpm: ArrayLike = 0.0,
        x_m: ArrayLike = 0.0,
        y_m: ArrayLike = 0.0,
        z_m: ArrayLike = 1.0,
    ) -> Launches:
        """Launches from numbers or arrays that broadcast to one length."""
        parts = (speed_mps, elevation_deg, azimuth_deg, top_rpm, side_rpm, gyro_rpm, x_m, y_m, z_m)
        arrays = [np.asarray(part, dtype=float) for part in parts]
        return cls(*_of_one_length(arrays))

    def __len__(self) -> int:
        return len(self.speed_mps)

    def some(self, chosen: Lanes | slice) -> Launches:
        """These launches only (indices, mask or slice)."""
        return Launches(*(getattr(self, name)[chosen] for name in self.__struct_fields__))

    @classmethod
    def joined(cls, several: Sequence[Launches]) -> Launches:
        """One batch of launches after another."""
        names = cls.__struct_fields__
        return cls(*(np.concatenate([getattr(one, name) for one in several]) for name in names))

    def thrown_by_wheels(self) -> Launches:
        """The same wish without the spin about the line of throw, which wheels cannot give.

        What is left of ``side_rpm`` is then side_rpm cos(elevation), leaning back with the throw.
        """
        gyro = self.side_rpm * np.sin(np.radians(self.elevation_deg))
        return msgspec.structs.replace(self, gyro_rpm=gyro)

    def direction(self) -> Array:
        """Unit vectors of the throw, (3, n)."""
        up, turn = np.radians(self.elevation_deg), np.radians(self.azimuth_deg)
        level = np.cos(up)
        return np.stack([level * np.sin(turn), level * np.cos(turn), np.sin(up)])

    def velocity(self) -> Array:
        """Velocity over the ground at the mouth, (3, n) in m/s."""
        velocity: Array = self.speed_mps * self.direction()
        return velocity

    def spin(self) -> Array:
        """Spin vectors, (3, n) in rad/s."""
        return self._spin(self.direction())

    def _spin(self, direction: Array) -> Array:
        turn = np.radians(self.azimuth_deg)
        spin: Array = self.gyro_rpm * direction
        spin[0] -= self.top_rpm * np.cos(turn)
        spin[1] += self.top_rpm * np.sin(turn)
        spin[2] -= self.side_rpm
        return spin * RPM

    def release(self) -> Release:
        """The same balls as places, velocities and spins."""
        direction, place_m = self.direction(), np.stack([self.x_m, self.y_m, self.z_m])
        return Release(place_m, self.speed_mps * direction, self._spin(direction))
