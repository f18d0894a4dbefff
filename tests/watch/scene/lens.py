"""A camera that really distorts: where a place stands in the picture, and which way a pixel looks.

Radial and tangential terms as in D. C. Brown, "Decentering distortion of lenses", Photogrammetric
Engineering 32 (1966): x' = x (1 + k1 r^2 + k2 r^4) + 2 p1 x y + p2 (r^2 + 2 x^2), and for y' with
p1 and p2 changed over. The middle of the first pixel is (0, 0). Camera axes: x right, y down,
z the way it looks.
"""

from __future__ import annotations

from functools import lru_cache

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial.transform import Rotation

from tests.watch.scene.court import FULL, Ground

Array = NDArray[np.float64]


@lru_cache(maxsize=64)
def turned(vector: tuple[float, float, float]) -> Array:
    """(3, 3) of a rotation vector."""
    return Rotation.from_rotvec(vector).as_matrix()


class Lens(msgspec.Struct, frozen=True, kw_only=True):
    """Where a camera stands, which way it looks, and what its lens does."""

    position_m: tuple[float, float, float]
    rotation: tuple[float, float, float]  # rotation vector, court axes to camera axes, rad
    focal_px: float
    centre_px: tuple[float, float]
    width: int
    height: int
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0

    def turn(self) -> Array:
        """(3, 3): a court direction to camera axes."""
        return turned(self.rotation)

    def bend(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Where the lens puts a ray (x, y, 1); both in units of the focal length."""
        r2 = x * x + y * y
        radial = 1 + r2 * (self.k1 + r2 * self.k2)
        return (
            x * radial + 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x),
            y * radial + self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y,
        )

    def unbend(self, x: Array, y: Array) -> tuple[Array, Array]:
        """The ray that the lens puts at (x, y): ``bend`` undone, to below a thousandth pixel."""
        straight_x, straight_y = x.copy(), y.copy()
        for _ in range(12):
            bent_x, bent_y = self.bend(straight_x, straight_y)
            straight_x += x - bent_x
            straight_y += y - bent_y
        return straight_x, straight_y

    def to_pixels(self, x: Array, y: Array) -> Array:
        bent = self.bend(x, y)
        return np.stack(
            [self.focal_px * at + middle for at, middle in zip(bent, self.centre_px, strict=True)],
            axis=-1,
        )

    def rays(self, pixels: ArrayLike) -> Array:
        """(..., 2) pixels to (..., 3) directions in camera axes, z = 1."""
        at = (np.asarray(pixels, float) - self.centre_px) / self.focal_px
        x, y = self.unbend(at[..., 0], at[..., 1])
        return np.stack([x, y, np.ones_like(x)], axis=-1)

    def seen_from(self, places_m: ArrayLike, shake: Array | None = None) -> Array:
        """(..., 3) court metres to camera axes; ``shake`` (..., 3, 3) turns on from its pose.

        One turn for all places, or n of them for places (n, 3).
        """
        turn = self.turn() if shake is None else shake @ self.turn()
        away = np.asarray(places_m, float) - self.position_m
        return np.einsum("...ij,...j->...i", turn, away)

    def project(self, places_m: ArrayLike, shake: Array | None = None) -> tuple[Array, Array]:
        """(..., 3) court metres to (..., 2) pixels and how far each is along the view, metres.

        What stands behind the camera gets a pixel too: look at the distance.
        """
        seen = self.seen_from(places_m, shake)
        far = seen[..., 2]
        safe = np.where(np.abs(far) < 1e-6, 1e-6, far)
        return self.to_pixels(seen[..., 0] / safe, seen[..., 1] / safe), far


def looking(
    position_m: ArrayLike,
    at_m: ArrayLike,
    *,
    focal_px: float,
    size: tuple[int, int],
    roll_deg: float = 0.0,
    bends: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0),
) -> Lens:
    """A lens at a place, looking at another; ``size`` is (width, height), ``bends`` k1 k2 p1 p2."""
    there = np.asarray(position_m, float)
    ahead = np.asarray(at_m, float) - there
    ahead /= np.linalg.norm(ahead)
    right = np.cross(ahead, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    turn = np.stack([right, np.cross(ahead, right), ahead])
    turn = Rotation.from_rotvec([0.0, 0.0, np.radians(roll_deg)]).as_matrix() @ turn
    x, y, z = (float(each) for each in Rotation.from_matrix(turn).as_rotvec())
    k1, k2, p1, p2 = bends
    return Lens(
        position_m=(float(there[0]), float(there[1]), float(there[2])),
        rotation=(x, y, z),
        focal_px=focal_px,
        centre_px=((size[0] - 1) / 2, (size[1] - 1) / 2),
        width=size[0],
        height=size[1],
        k1=k1,
        k2=k2,
        p1=p1,
        p2=p2,
    )


#: Where people stand a camera: place and what it looks at, metres; focal length over the width.
PLACES = {
    "behind receiver": ((2.8, 17.5, 2.8), (0.0, 2.0, 0.6), 0.69),
    "beside": ((9.0, 13.5, 2.6), (-0.5, 4.5, 0.6), 0.69),
    "behind launcher": ((2.5, -17.0, 3.0), (0.0, 8.0, 0.5), 0.94),
    "corner": ((-8.2, 16.8, 2.9), (1.0, 2.5, 0.4), 0.69),
}


def stood(
    place: str,
    size: tuple[int, int] = (1280, 720),
    random: np.random.Generator | None = None,
    ground: Ground = FULL,
) -> Lens:
    """A camera at one of PLACES; with ``random``, as a hand would set it up, bent lens and all.

    Distortion drawn as of a phone's or action camera's wide lens after its own correction: a few
    percent at the corner (no source: what such lenses leave is seldom published). On a smaller
    court it stands as far outside the lines as on a full one, and looks at the same part.
    """
    position_m, at_m, focal = PLACES[place]
    scale = ground.half_long_m / FULL.half_long_m
    there, at = np.array(position_m), np.array(at_m) * (scale, scale, 1.0)
    sizes = ((FULL.half_wide_m, ground.half_wide_m), (FULL.half_long_m, ground.half_long_m))
    for axis, (full_m, half_m) in enumerate(sizes):
        outside_m = abs(there[axis]) - full_m
        beyond = half_m + outside_m if outside_m > 0 else scale * abs(there[axis])
        there[axis] = np.copysign(beyond, there[axis])
    if random is None:
        return looking(there, at, focal_px=focal * size[0], size=size)
    lens = looking(
        there + random.normal(0, (0.4, 0.4, 0.2)),
        at + random.normal(0, (0.4, 0.4, 0.1)),
        focal_px=focal * size[0] * random.uniform(0.95, 1.08),
        size=size,
        roll_deg=random.normal(0, 0.8),
        bends=(
            random.uniform(-0.08, 0.03),
            random.uniform(-0.01, 0.02),
            random.normal(0, 4e-4),
            random.normal(0, 4e-4),
        ),
    )
    middle = tuple(at + random.normal(0, 0.004 * size[0]) for at in lens.centre_px)
    return msgspec.structs.replace(lens, centre_px=middle)
