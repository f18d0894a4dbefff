"""A small round thing that moves while the shutter is open: its share of every pixel it crosses."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Array = NDArray[np.float64]


class Streak(msgspec.Struct, frozen=True, eq=False):
    """A patch of the picture: its upper left corner (even numbers), and shares of pixels."""

    left: int
    top: int
    share: Floats  # (rows, columns) even numbers of both
    lit: Floats  # the same, times how bright that part of the ball is, about 1


def _disc(radius_px: float, edge_px: float, far: Floats) -> Floats:
    """Shares by distance from a disc's middle, of exactly the disc's area in all."""
    share = np.clip(0.5 + (radius_px - far) / edge_px, 0.0, 1.0)
    if radius_px >= edge_px / 2:
        area = radius_px**2 + edge_px**2 / 12
    else:
        area = (radius_px + edge_px / 2) ** 3 / (3 * edge_px)
    return share * np.float32(radius_px**2 / area)


def streak(
    middles_px: Array,
    radius_px: float,
    size: tuple[int, int],
    *,
    edge_px: float = 1.4,
    light_px: tuple[float, float] = (0.0, 0.0),
    shape: Array | None = None,
) -> Streak | None:
    """What a disc leaves whose middle was at each of ``middles_px`` (n, 2) for an equal time.

    ``size`` is (width, height). ``light_px`` is where its bright side is: a direction in the
    picture, as long as the ball is uneven (0 even, 1 black on the far side). ``shape`` (2, 2) turns
    a disc into an ellipse of the same area. None outside the picture.
    """
    stretch = 1.0 if shape is None else float(np.linalg.norm(shape, 2))
    reach = radius_px * stretch + edge_px * max(1.0, stretch)
    low = np.floor(middles_px.min(0) - reach).astype(int) // 2 * 2
    high = np.ceil(middles_px.max(0) + reach).astype(int) // 2 * 2 + 2
    low, high = np.maximum(low, 0), np.minimum(high, np.array(size) // 2 * 2)
    if (high <= low).any():
        return None
    edges = tuple(np.arange(*ends, dtype=np.float32) for ends in zip(low, high, strict=True))
    share = np.zeros((high[1] - low[1], high[0] - low[0]), np.float32)
    lit = np.zeros_like(share) if any(light_px) else share
    back = None if shape is None else np.linalg.inv(shape).astype(np.float32)
    for middle in middles_px.astype(np.float32):
        # Only there this one shows anything: what passes close by is large, and long.
        first, last = (
            np.clip((middle + side * reach - low).astype(int), 0, None) for side in (-1, 2)
        )
        some = np.s_[first[1] : last[1], first[0] : last[0]]
        off_u, off_v = edges[0][None, some[1]] - middle[0], edges[1][some[0], None] - middle[1]
        if back is not None:
            off_u, off_v = (row[0] * off_u + row[1] * off_v for row in back)
        each = _disc(radius_px, edge_px, np.sqrt(off_u**2 + off_v**2))
        share[some] += each
        if lit is not share:
            bright = 1 + (off_u * light_px[0] + off_v * light_px[1]) / max(radius_px, edge_px)
            lit[some] += each * bright
    count = np.float32(len(middles_px))
    return Streak(int(low[0]), int(low[1]), share / count, lit / count)


def samples(length_px: float, radius_px: float) -> int:
    """How many places of a streak are enough: no step over half a radius, or half a pixel."""
    return int(np.clip(np.ceil(length_px / max(0.5 * radius_px, 0.5)), 2, 96)) + 1
