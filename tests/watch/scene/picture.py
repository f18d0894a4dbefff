"""A frame in the making: luma, and where colour is asked for the two chroma planes at half size."""

from __future__ import annotations

from functools import lru_cache

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.court import Ground
from tests.watch.scene.lens import Lens
from tests.watch.scene.recipe import Colour, Look
from tests.watch.scene.still import Painter, Still
from tests.watch.scene.streaks import Streak

Plane = NDArray[np.uint8]
Floats = NDArray[np.float32]
Array = NDArray[np.float64]
SHIFT = 4  # bits after the point in OpenCV's drawing


@lru_cache(maxsize=3)
def painted(
    ground: Ground, look: Look, seed: int, lens: Lens, soft_px: float, margin_px: int
) -> Still:
    """Every scene on one court with one camera shares the picture."""
    return Painter(ground, look, seed).paint(lens, soft_px, margin_px)


def in_planes(colour: Colour, light: float = 1.0) -> tuple[float, float, float]:
    """Red, green, blue in some light to luma and chroma (ITU-R BT.601, full range)."""
    red, green, blue = (light * each for each in colour)
    luma = 0.299 * red + 0.587 * green + 0.114 * blue
    return luma, 128 + 0.564 * (blue - luma), 128 + 0.713 * (red - luma)


class Picture(msgspec.Struct, eq=False):
    """What is drawn on: ``chroma`` is empty in a grey film."""

    luma: Plane
    chroma: tuple[Plane, ...]

    def copied(self) -> Picture:
        return Picture(self.luma.copy(), tuple(plane.copy() for plane in self.chroma))

    def blend(
        self, patch: Streak, colour: Colour, keep: Floats | np.float32 | None, light: float
    ) -> None:
        """A patch of a colour; ``keep`` is how much of it shows at each pixel (net in front)."""
        rows, columns = patch.share.shape
        some = np.s_[patch.top : patch.top + rows, patch.left : patch.left + columns]
        share, lit = patch.share, patch.lit
        if keep is not None:
            share, lit = share * keep, lit * keep
        luma, *chroma = in_planes(colour, light)
        under = self.luma[some]
        under[:] = np.clip(under * (1 - share) + luma * lit + 0.5, 0, 255)
        if self.chroma:
            half = share.reshape(rows // 2, 2, columns // 2, 2).mean((1, 3))
            some = np.s_[
                patch.top // 2 : (patch.top + rows) // 2,
                patch.left // 2 : (patch.left + columns) // 2,
            ]
            for plane, value in zip(self.chroma, chroma, strict=True):
                under = plane[some]
                under[:] = under * (1 - half) + value * half + 0.5

    def darken(self, left: int, top: int, share: Floats) -> None:
        rows, columns = share.shape
        under = self.luma[top : top + rows, left : left + columns]
        under[:] = under * (1 - share) + 0.5


def capsules(plane: Plane, ends_px: Array, halves_px: Array, values: list[float]) -> None:
    """Rounded limbs, their edges smooth, the last on top; ends (n, 2, 2), half widths (n, 2)."""
    scale = 1 << SHIFT
    along = ends_px[:, 1] - ends_px[:, 0]
    length = np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-6)
    out = (along[:, ::-1] * (-1, 1) / length)[:, None] * halves_px[..., None]
    corners = np.concatenate([ends_px + out, (ends_px - out)[:, ::-1]], axis=1)
    corners = np.round(corners * scale).astype(np.int32)
    middles = np.round(ends_px * scale).astype(int).tolist()
    radii = np.maximum(np.round(halves_px * scale), 4).astype(int).tolist()
    for limb, value in enumerate(values):
        cv2.fillConvexPoly(plane, corners[limb], value, cv2.LINE_AA, SHIFT)
        for middle, radius in zip(middles[limb], radii[limb], strict=True):
            cv2.circle(plane, middle, radius, value, -1, cv2.LINE_AA, SHIFT)
