"""What in a picture differs from what stands there: blobs, each with its streak."""

from __future__ import annotations

import cv2
import msgspec
import numpy as np

from feedscript.flight.models import Array
from feedscript.watch.seek.background import Box, Reals, Seen

#: A blob has a pixel that differs this much, and reaches as far as pixels differ by the other, in
#: standard deviations after a little blur (which makes noise smaller, and a ball hardly).
_CLEAR, _REACH = 5.0, 2.5
#: Pixels of a blob: fewer are noise, more than this many times a ball's streak are somebody.
_LEAST_AREA, _MOST_TIMES = 3, 6.0


class Blobs(msgspec.Struct, frozen=True, eq=False):
    """What one picture shows in one box; a row each. Pixels are the background's, which is to say
    that the camera's trembling is taken out."""

    middle_px: Array  # (n, 2)
    area_px: Array  # (n,)
    strength: Array  # (n,) sum of differences, in standard deviations; negative: darker
    streak_px: Array  # (n, 2) from the middle to either end
    width_px: Array  # (n,)

    def __len__(self) -> int:
        return len(self.area_px)


NONE = Blobs(np.empty((0, 2)), np.empty(0), np.empty(0), np.empty((0, 2)), np.empty(0))


def blobs_in(seen: Seen, box: Box, radius_px: float, reach_px: float) -> Blobs:
    """What may be a ball of this radius that moves so far while the shutter is open, at most."""
    if box.empty:
        return NONE
    differs = cv2.GaussianBlur(seen.difference(box), (0, 0), 0.7)
    most = _MOST_TIMES * (np.pi * (radius_px + 1) ** 2 + 2 * (radius_px + 1) * reach_px)
    found = [row for side in (1.0, -1.0) for row in _of_one_side(differs * side, side, most)]
    if not found:
        return NONE
    rows = np.array(found)
    corner = np.array([box.left, box.top]) - seen.off_px
    return Blobs(rows[:, :2] + corner, rows[:, 2], rows[:, 3], rows[:, 4:6], rows[:, 6])


def _of_one_side(differs: Reals, side: float, most_area: float) -> list[tuple[float, ...]]:
    """Lighter or darker ones."""
    mask = (differs > _REACH).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    rows = []
    for one in np.unique(labels[differs > _CLEAR]).tolist():
        left, top, width, height, area = stats[one].tolist()
        if _LEAST_AREA <= area <= most_area:
            part = np.s_[top : top + height, left : left + width]
            weight = np.where(labels[part] == one, differs[part], 0).astype(np.float64)
            rows.append(_shape(weight, left, top, area, side))
    return rows


def _shape(weight: Array, left: int, top: int, area: int, side: float) -> tuple[float, ...]:
    """Middle, area, strength, streak and width of one blob, by its moments.

    A bar of even light has a variance of its length squared over twelve.
    """
    total = weight.sum()
    x, y = np.arange(weight.shape[1]), np.arange(weight.shape[0])
    across, down = weight.sum(0) / total, weight.sum(1) / total
    u, v = float(across @ x), float(down @ y)
    uu, vv = float(across @ (x - u) ** 2), float(down @ (y - v) ** 2)
    uv = float((y - v) @ weight @ (x - u) / total)
    values, vectors = np.linalg.eigh([[uu, uv], [uv, vv]])
    half = np.sqrt(3 * max(values[1] - values[0], 0.0))
    along = half * vectors[:, 1]
    width = 4 * np.sqrt(max(values[0], 0.05))
    return (u + left, v + top, float(area), side * total, along[0], along[1], width)
