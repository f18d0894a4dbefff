"""Where a picture has thin bright lines.

A pixel belongs to one if it is brighter than what lies a little way to both sides of it (D. Farin,
S. Krabbe, P. H. N. de With & W. Effelsberg, "Robust camera calibration for sport videos using
court models", Proc. SPIE 5307, 2004, on white pixels with two dark sides; cited from memory).
"""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.watch.camera.camera import Floats

Picture = NDArray[np.uint8]

#: Distances to the two sides, for a picture 1280 wide; a near baseline is up to 12 pixels thick.
_SIDES_PX = (3, 7, 14)
#: Brighter by so many times the noise, and by so much at the least (of 255).
_TIMES_NOISE, _LEAST = 5.0, 5.0
#: Directions are told apart in so many parts of half a turn.
DIRECTIONS = 6
#: Distances are not told apart beyond this, for a picture 1280 wide.
REACH_PX = 24.0


class Ridges(msgspec.Struct, frozen=True, eq=False):
    """``strength``: how much brighter than both sides, shape (height, width), float32.
    ``thin``: the middles of lines. ``far``: distance in pixels to the next middle of about the same
    direction, shape (DIRECTIONS, height, width), at half the picture's size, up to ``reach_px``."""

    strength: NDArray[np.float32]
    thin: NDArray[np.bool_]
    far: NDArray[np.float32]
    reach_px: float


def find_ridges(grey: Picture) -> Ridges:
    """The thin bright lines of a picture, shape (height, width)."""
    scale = grey.shape[1] / 1280
    smooth = np.asarray(cv2.GaussianBlur(grey.astype(np.float32), (0, 0), 0.8 * scale), np.float32)
    across, down = _strengths(smooth, scale, 1), _strengths(smooth, scale, 0)
    strength = np.maximum(across, down)
    least = max(_LEAST, _TIMES_NOISE * _noise(smooth))
    thin = (across >= down) & _highest(across, 1) | (down > across) & _highest(down, 0)
    thin &= strength > least
    reach_px = REACH_PX * scale
    return Ridges(strength, thin, _distances(thin, smooth, reach_px), reach_px)


def _strengths(smooth: NDArray[np.float32], scale: float, axis: int) -> NDArray[np.float32]:
    """The most by which pixels are brighter than both sides along one axis."""
    best = np.zeros_like(smooth)
    for side_px in _SIDES_PX:
        step = max(round(side_px * scale), 1)
        before, after = (_shifted(smooth, sign * step, axis) for sign in (1, -1))
        np.maximum(best, smooth - np.maximum(before, after), out=best)
    return best


def _shifted(values: NDArray[np.float32], by: int, axis: int) -> NDArray[np.float32]:
    """Moved along an axis; what comes in from outside is endlessly bright, so no line is there."""
    moved = np.roll(values, by, axis)
    edge = [slice(None), slice(None)]
    edge[axis] = slice(0, by) if by > 0 else slice(by, None)
    moved[tuple(edge)] = np.inf
    return moved


def _noise(smooth: NDArray[np.float32]) -> float:
    """The standard deviation of a smooth picture's fine structure, by its middle one."""
    fine = cv2.Laplacian(smooth[::2, ::2], cv2.CV_32F)
    return float(np.median(np.abs(fine)) * 1.4826 / np.sqrt(20))


def _highest(strength: NDArray[np.float32], axis: int) -> NDArray[np.bool_]:
    """Where no neighbour within two along the axis is stronger."""
    wide = np.ones((1, 5) if axis else (5, 1), np.uint8)
    return np.asarray(strength >= cv2.dilate(strength, wide), np.bool_)


def _distances(
    thin: NDArray[np.bool_], smooth: NDArray[np.float32], reach_px: float
) -> NDArray[np.float32]:
    direction = _directions(smooth)
    far = []
    for part in range(DIRECTIONS):
        turned = np.abs((direction - part + DIRECTIONS / 2) % DIRECTIONS - DIRECTIONS / 2)
        free = np.where(thin & (turned < 1.0), 0, 255).astype(np.uint8)
        half = free[: free.shape[0] // 2 * 2, : free.shape[1] // 2 * 2]
        half = half.reshape(half.shape[0] // 2, 2, half.shape[1] // 2, 2).min(axis=(1, 3))
        distance = cv2.distanceTransform(half, cv2.DIST_L2, 3)
        far.append(2 * np.minimum(distance, np.float32(reach_px / 2)))
    return np.stack(far)


def _directions(smooth: NDArray[np.float32]) -> NDArray[np.float32]:
    """Which way lines run, in parts of half a turn from 0 (level) up to ``DIRECTIONS``."""
    x, y = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    xx, yy, xy = (cv2.GaussianBlur(one, (0, 0), 2.0) for one in (x * x, y * y, x * y))
    across = 0.5 * np.arctan2(2 * xy, xx - yy)  # of the slope, which is across the line
    return np.asarray(((across + np.pi / 2) / np.pi * DIRECTIONS) % DIRECTIONS, np.float32)


def direction_part(along_px: Floats) -> NDArray[np.int64]:
    """Of directions in the picture, shape (..., 2), the part that ``Ridges.far`` is told by."""
    turn = np.arctan2(along_px[..., 1], along_px[..., 0]) / np.pi * DIRECTIONS
    return np.round(np.nan_to_num(turn)).astype(np.int64) % DIRECTIONS
