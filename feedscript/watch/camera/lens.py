"""What a lens does to a point of the picture plane, and the way back.

Points are (x, y) divided by the depth, without unit, any shape (..., 2); NaN stays NaN.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from feedscript.watch.camera.camera import Camera, Floats

#: Newton's steps; each squares the error, and lenses bend little.
_MOST_STEPS = 30
_CLOSE = 1e-12


def bend(camera: Camera, plane: Floats) -> Floats:
    """Where the lens draws these points; NaN beyond the radius at which it would fold back."""
    x, y = plane[..., 0], plane[..., 1]
    squared = x * x + y * y
    along = 1 + camera.k1 * squared + camera.k2 * squared**2
    drawn = np.stack(
        [
            x * along + 2 * camera.p1 * x * y + camera.p2 * (squared + 2 * x * x),
            y * along + camera.p1 * (squared + 2 * y * y) + 2 * camera.p2 * x * y,
        ],
        axis=-1,
    )
    drawn[squared >= widest_squared(camera.k1, camera.k2)] = np.nan
    return drawn


@lru_cache(maxsize=64)
def widest_squared(k1: float, k2: float) -> float:
    """The squared radius at which r (1 + k1 r^2 + k2 r^4) stops growing; infinite if never."""
    turns = np.roots([5 * k2, 3 * k1, 1.0])
    real = turns[np.abs(turns.imag) < _CLOSE].real
    return float(min(real[real > 0], default=np.inf))


def bend_slopes(camera: Camera, plane: Floats) -> Floats:
    """How the drawn point moves with the point: shape (..., 2, 2), drawn before plane."""
    x, y = plane[..., 0], plane[..., 1]
    squared = x * x + y * y
    along = 1 + camera.k1 * squared + camera.k2 * squared**2
    growth = 2 * camera.k1 + 4 * camera.k2 * squared
    across = growth * x * y + 2 * camera.p1 * x + 2 * camera.p2 * y
    xx = along + growth * x * x + 2 * camera.p1 * y + 6 * camera.p2 * x
    yy = along + growth * y * y + 6 * camera.p1 * y + 2 * camera.p2 * x
    return np.stack([np.stack([xx, across], -1), np.stack([across, yy], -1)], -2)


def straighten(camera: Camera, drawn: Floats) -> Floats:
    """The points that the lens draws here, by Newton's method; NaN where it draws none."""
    plane = np.array(drawn, np.float64)
    for _ in range(_MOST_STEPS):
        missing = bend(camera, plane) - drawn
        step = np.linalg.solve(_regular(bend_slopes(camera, plane)), missing[..., None])[..., 0]
        plane = plane - step
        if not np.any(np.abs(step) > _CLOSE):
            break
    off = np.abs(bend(camera, plane) - drawn).max(axis=-1)
    plane[~(off < 1e-9)] = np.nan
    return plane


def _regular(slopes: Floats) -> Floats:
    """NaN where it cannot be inverted, so that the solver does not raise."""
    flat = ~(np.linalg.det(slopes) > 1e-9)
    return np.where(flat[..., None, None], np.eye(2) * np.nan, slopes)
