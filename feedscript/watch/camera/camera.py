"""Where a camera stands, where it looks, and how its lens draws."""

from __future__ import annotations

from functools import cached_property

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

Floats = NDArray[np.float64]

#: What the covariance speaks of, in its order. ``turn``: a small rotation of the camera about its
#: own axes (right, down, forward), in radians. Units: metres, radians, pixels; the lens has none.
PARAMETERS = (
    *("x_m", "y_m", "z_m"),
    *("turn_right_rad", "turn_down_rad", "turn_forward_rad"),
    "focal_px",
    *("k1", "k2", "p1", "p2"),
    *("centre_x_px", "centre_y_px"),
)

Covariance = tuple[tuple[float, ...], ...]


class Camera(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """A pinhole with a lens of the Brown and Conrady kind, in the court's axes.

    ``rotation`` (a rotation vector, radians) turns court axes into the camera's: x right, y down,
    z forward. A pixel's middle has whole coordinates; (0, 0) is the middle of the top left one.
    Lens: D. C. Brown, "Decentering distortion of lenses", Photogrammetric Engineering 32 (1966);
    k1 and k2 along the radius, p1 and p2 across it, on coordinates divided by the depth.
    """

    position_m: tuple[float, float, float]
    rotation: tuple[float, float, float]
    focal_px: float
    width_px: int
    height_px: int
    centre_px: tuple[float, float]
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    covariance: Covariance | None = None  # of PARAMETERS; None: taken as exact
    row_time_s: float = 0.0  # from one row's exposure to the next one's: a rolling shutter

    @cached_property
    def axes(self) -> Floats:
        """The camera's axes as rows, in court axes: shape (3, 3)."""
        return np.asarray(Rotation.from_rotvec(self.rotation).as_matrix(), np.float64)

    @cached_property
    def uncertainty(self) -> Floats:
        """The covariance as an array, all zero where the camera is taken as exact."""
        if self.covariance is None:
            return np.zeros((len(PARAMETERS), len(PARAMETERS)))
        return np.array(self.covariance)


def looking(
    position_m: tuple[float, float, float],
    at_m: tuple[float, float, float],
    focal_px: float,
    size_px: tuple[int, int],
) -> Camera:
    """A level camera with a perfect lens that looks from one point at another."""
    forward = np.subtract(at_m, position_m)
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, (0.0, 0.0, 1.0))
    right /= np.linalg.norm(right)
    axes = np.stack([right, np.cross(forward, right), forward])
    width_px, height_px = size_px
    return Camera(
        position_m=position_m,
        rotation=_three(Rotation.from_matrix(axes).as_rotvec()),
        focal_px=focal_px,
        width_px=width_px,
        height_px=height_px,
        centre_px=((width_px - 1) / 2, (height_px - 1) / 2),
    )


def moved(camera: Camera, change: Floats) -> Camera:
    """The camera with every one of ``PARAMETERS`` changed by so much; shape (13,)."""
    turned = Rotation.from_rotvec(change[3:6]) * Rotation.from_rotvec(camera.rotation)
    focal_px, k1, k2, p1, p2, centre_x, centre_y = (float(one) for one in change[6:])
    return msgspec.structs.replace(
        camera,
        position_m=_three(np.add(camera.position_m, change[:3])),
        rotation=_three(turned.as_rotvec()),
        focal_px=camera.focal_px + focal_px,
        k1=camera.k1 + k1,
        k2=camera.k2 + k2,
        p1=camera.p1 + p1,
        p2=camera.p2 + p2,
        centre_px=(camera.centre_px[0] + centre_x, camera.centre_px[1] + centre_y),
    )


def as_covariance(matrix: Floats) -> Covariance:
    """An array of shape (13, 13) as the camera keeps it."""
    return tuple(tuple(float(one) for one in row) for row in matrix)


def _three(values: Floats) -> tuple[float, float, float]:
    x, y, z = (float(one) for one in values)
    return x, y, z
