"""A still of what does not move: the middle value of each pixel over pictures of the whole video.

Pictures are first laid onto one another, since a hand or a settling tripod moves them a little; the
shift is found by phase correlation (C. D. Kuglin & D. C. Hines, "The phase correlation image
alignment method", 1975) and refined, with the roll, by the enhanced correlation coefficient (G. D.
Evangelidis & E. Z. Psarakis, IEEE PAMI 30, 2008).
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from feedscript.watch.camera.camera import Floats
from feedscript.watch.ruler.ridges import Picture

#: Below this correlation two pictures do not show the same place.
_LEAST_ALIKE = 0.6
_STEPS = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 1e-5)
#: The median is taken of so many rows at a time, which bounds what it needs of memory.
_ROWS = 64
#: Pictures wider than this are made smaller before they are laid onto one another.
_WIDE_PX = 960


def laid_together(pictures: Sequence[Picture], ways: Sequence[Floats]) -> Picture:
    """The still of pictures of one size, each brought back along its way; where the first way
    leads nowhere, the still lies as the first picture does."""
    laid = [_laid(picture, way) for picture, way in zip(pictures, ways, strict=True)]
    grey = np.empty_like(laid[0])
    for top in range(0, len(grey), _ROWS):
        rows = np.stack([one[top : top + _ROWS] for one in laid])
        grey[top : top + _ROWS] = np.round(np.median(rows, axis=0))
    return grey


def way_onto(base: Picture, picture: Picture) -> Floats | None:
    """The shift and roll, shape (2, 3), that takes places of ``base`` to those of ``picture``; None
    where the two do not show the same place."""
    times = max(2, round(base.shape[1] / _WIDE_PX))
    small = [
        np.asarray(
            cv2.resize(one, None, fx=1 / times, fy=1 / times, interpolation=cv2.INTER_AREA),
            np.uint8,
        )
        for one in (base, picture)
    ]
    fine = [_fine(one) for one in small]
    window = cv2.createHanningWindow(fine[0].shape[::-1], cv2.CV_32F)
    (across, down), _ = cv2.phaseCorrelate(fine[0], fine[1], window)
    start = np.array([[1, 0, across], [0, 1, down]], np.float32)
    try:
        alike, way = cv2.findTransformECC(
            fine[0], fine[1], start, cv2.MOTION_EUCLIDEAN, _STEPS, np.ones_like(small[0]), 5
        )
    except cv2.error:
        return None
    if alike < _LEAST_ALIKE:
        return None
    found = np.asarray(way, np.float64)
    # Of the small picture's pixel middles to those of the whole one.
    middle = (times - 1) / 2
    found[:, 2] = times * found[:, 2] + middle - found[:, :2] @ (middle, middle)
    return found


def _fine(grey: Picture) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    """Without what changes slowly over the picture, so that light does not count."""
    values = grey.astype(np.float32)
    return np.asarray(values - cv2.GaussianBlur(values, (0, 0), 12), np.float32)


def apart_px(way: Floats, other: Floats, picture: Picture) -> float:
    """How far the corners lie apart along two ways, at most."""
    height, width = picture.shape
    corners = np.array([[0, 0, 1], [width, 0, 1], [0, height, 1], [width, height, 1]], np.float64)
    return float(np.linalg.norm(corners @ (way - other).T, axis=1).max())


def _laid(picture: Picture, way: Floats) -> Picture:
    size = (picture.shape[1], picture.shape[0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(
        cv2.warpAffine(picture, way, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), np.uint8
    )
