"""What in a picture differs from what stands there: blobs, each with its streak."""

from __future__ import annotations

import cv2
import msgspec
import numpy as np

from feedscript.flight.models import Array, Mask
from feedscript.watch.seek.background import Box, Reals, Seen

#: A blob has a pixel that differs this much, and reaches as far as pixels differ by the other, in
#: standard deviations after a little blur (which makes noise smaller, and a ball hardly).
_CLEAR, _REACH = 5.0, 2.5
#: Pixels of a blob: fewer are noise, more than this many times a ball's streak are somebody.
_LEAST_AREA, _MOST_TIMES = 3, 6.0
#: Eight neighbours are filled, beside the picture, with this value.
_FILL, _NEW = 8 | cv2.FLOODFILL_MASK_ONLY, 2 << 8


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

    def some(self, chosen: Mask) -> Blobs:
        """Those of the rows that are chosen."""
        columns = (self.middle_px, self.area_px, self.strength, self.streak_px, self.width_px)
        return Blobs(*(column[chosen] for column in columns))


NONE = Blobs(np.empty((0, 2)), np.empty(0), np.empty(0), np.empty((0, 2)), np.empty(0))


def blobs_in(seen: Seen, box: Box, radius_px: float, reach_px: float) -> Blobs:
    """What may be a ball of this radius that moves so far while the shutter is open, at most."""
    if box.empty:
        return NONE
    differs = np.asarray(cv2.GaussianBlur(seen.difference(box), (5, 5), 0.7), np.float32)
    most = _MOST_TIMES * (np.pi * (radius_px + 1) ** 2 + 2 * (radius_px + 1) * reach_px)
    found = [row for side in (1.0, -1.0) for row in _of_one_side(differs, side, most)]
    if not found:
        return NONE
    rows = np.array(found)
    corner = np.array([box.left, box.top]) - seen.off_px
    return Blobs(rows[:, :2] + corner, rows[:, 2], rows[:, 3], rows[:, 4:6], rows[:, 6])


def _of_one_side(differs: Reals, side: float, most_area: float) -> list[tuple[float, ...]]:
    """Lighter or darker ones: from each clear pixel on as far as pixels differ. To number every
    speck of noise would take far longer."""
    clear = (differs > _CLEAR if side > 0 else differs < -_CLEAR).astype(np.uint8)
    outlines, _ = cv2.findContours(clear, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    if not outlines:
        return []
    reach = (differs > _REACH if side > 0 else differs < -_REACH).astype(np.uint8)
    filled = np.zeros((reach.shape[0] + 2, reach.shape[1] + 2), np.uint8)
    rows = []
    for outline in outlines:
        x, y = outline[0, 0].tolist()
        if filled[y + 1, x + 1]:
            continue
        area, _, _, (left, top, width, height) = cv2.floodFill(
            reach, filled, (x, y), 0, flags=_FILL | _NEW
        )
        part = filled[top + 1 : top + height + 1, left + 1 : left + width + 1]
        if _LEAST_AREA <= area <= most_area:
            own = differs[top : top + height, left : left + width]
            weight = np.where(part == _NEW >> 8, side * own, 0).astype(np.float64)
            rows.append(_shape(weight, left, top, area, side))
        part[part > 0] = 1
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
