"""What stands still in the pictures of the last seconds, and by how much each pixel trembles.

Per pixel the middle one of nine pictures, and the spread of the middle five: a ball, or a person
who walks on, is in too few of them to count.
"""

from __future__ import annotations

from collections import deque

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
Reals = NDArray[np.float32]

_PICTURES = 9
#: From one kept picture to the next; nine of them reach back over two seconds.
_APART_S = 0.25
#: Pictures of so long make a background, whatever came before them.
REACH_S = (_PICTURES + 1) * _APART_S
#: The standard deviation for which the second and the eighth of nine sorted values are one apart
#: (expected order statistics of the normal distribution, from memory: 0.932 to either side).
_PER_SPREAD = 1 / (2 * 0.932)
#: A pixel is never taken to be steadier than this, in grey steps.
_LEAST_SD = 1.5
#: Every so many rows and columns are looked at for the picture's light and place; for its light
#: fewer columns are enough.
_THIN, _SPARSE = 4, 8
#: Of those rows so many neighbours have the same light.
_ROWS = 11
#: A pixel steeper than this, grey steps a pixel, shows a shift; so many are needed, and enough.
_STEEP, _LEAST_STEEP, _MOST_STEEP, _ROUNDS = 3.0, 40, 1200, 4
#: A picture that lies off by less lies where it was.
_NO_SHIFT_PX = 0.02


class Box(msgspec.Struct, frozen=True):
    """A part of the picture, in pixels: left and top inside, right and bottom just outside."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def part(self) -> tuple[slice, slice]:
        return slice(self.top, self.bottom), slice(self.left, self.right)

    @property
    def empty(self) -> bool:
        return self.right - self.left < 4 or self.bottom - self.top < 4


class Background(msgspec.Struct, frozen=True, eq=False):
    """One box of the picture without what moves."""

    box: Box
    grey: Reals
    sd: Reals  # grey steps
    steep: Steep

    @classmethod
    def of(cls, box: Box, grey: Reals, sd: Reals) -> Background:
        return cls(box, grey, sd, Steep.of(grey))

    def seen(self, picture: Grey, near_px: tuple[float, float] = (0.0, 0.0)) -> Seen:
        """How the picture lies (somewhere near this) and how bright it is beside this."""
        part = picture[self.box.part]
        thin = part[::_THIN, ::_SPARSE].astype(np.float32)
        gain = _row_gain(thin, _thinned(self.grey, near_px, thin.shape))
        every = np.arange(self.grey.shape[0])
        gains = np.interp(every, np.arange(len(gain)) * _THIN, gain).astype(np.float32)
        return Seen(self, picture, self.steep.shift(part, gains, near_px), gains)


class Seen(msgspec.Struct, frozen=True, eq=False):
    """A picture over its background: it lies ``off_px`` to the right and down, and each row is so
    many times as light."""

    background: Background
    picture: Grey
    off_px: tuple[float, float]
    gain: Reals

    def difference(self, box: Box) -> Reals:
        """What is there now beside what stands there, in standard deviations of each pixel.

        ``box`` lies inside the background's, at least a pixel from its edges.
        """
        whole = self.background
        top, left = box.top - whole.box.top, box.left - whole.box.left
        height, width = box.bottom - box.top, box.right - box.left
        across, down = self.off_px
        if max(abs(across), abs(down)) < _NO_SHIFT_PX:
            still = whole.grey[top : top + height, left : left + width]
        else:
            still = self._laid(left - across, top - down, (width, height))
        sd = whole.sd[top : top + height, left : left + width]
        rows, columns = box.part
        gain = self.gain[top : top + height, None]
        return np.asarray((self.picture[rows, columns] - gain * still) / sd, np.float32)

    def _laid(self, left: float, top: float, size: tuple[int, int]) -> Reals:
        """The background from this place on, which is between pixels."""
        way = np.array([[1, 0, left], [0, 1, top]], np.float32)
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        grey = self.background.grey
        return np.asarray(
            cv2.warpAffine(grey, way, size, flags=flags, borderMode=cv2.BORDER_REPLICATE),
            np.float32,
        )


class Steep(msgspec.Struct, frozen=True, eq=False):
    """Pixels at which the background is steep, a row each: they show how a picture lies."""

    at: NDArray[np.int64]  # (n, 2): column and row in the box
    grey: Reals
    slopes: Reals  # (n, 2): grey steps a pixel to the right and down

    @classmethod
    def of(cls, grey: Reals) -> Steep:
        across = cv2.Sobel(grey, cv2.CV_32F, 1, 0, scale=1 / 8)
        down = cv2.Sobel(grey, cv2.CV_32F, 0, 1, scale=1 / 8)
        found = np.flatnonzero(across**2 + down**2 > _STEEP**2)
        some = found[np.linspace(0, len(found) - 1, min(len(found), _MOST_STEEP)).astype(np.int64)]
        rows, columns = np.divmod(some, grey.shape[1])
        slopes = np.stack([across[rows, columns], down[rows, columns]], -1).astype(np.float32)
        return cls(np.column_stack([columns, rows]), grey[rows, columns], slopes)

    def shift(self, part: Grey, gains: Reals, near_px: tuple[float, float]) -> tuple[float, float]:
        """By how many pixels this part of a picture lies right and down of the background.

        Least squares on the background's slopes (B. D. Lucas & T. Kanade, 1981; with the slopes of
        the one that stays: S. Baker & I. Matthews, 2004), without the pixels that no small shift
        explains; as before where too little has slopes.
        """
        shift_px, steep = np.array(near_px), np.linalg.norm(self.slopes, axis=1)
        gain = gains[self.at[:, 1]]
        for _ in range(_ROUNDS):
            less = self.grey - _read(part, self.at + shift_px) / gain
            used = np.abs(less) < 4 * _LEAST_SD + 1.5 * steep
            if used.sum() < _LEAST_STEEP:
                return near_px
            step = _robust(self.slopes[used], less[used])
            shift_px = shift_px + step
            if np.abs(step).max() < 0.02:
                break
        return float(shift_px[0]), float(shift_px[1])


def _read(part: Grey, places: NDArray[np.float64]) -> Reals:
    """Between pixels, at (column, row) places, shape (n, 2); beyond the edge, as at the edge."""
    least = np.clip(np.floor(places).astype(np.int64), 0, np.array(part.shape[::-1]) - 2)
    right, down = np.clip(places - least, 0, 1).T.astype(np.float32)
    column, row = least.T
    upper, lower = (
        part[row + below, column] * (1 - right) + part[row + below, column + 1] * right
        for below in (0, 1)
    )
    return np.asarray(upper * (1 - down) + lower * down, np.float32)


class Recent:
    """The pictures of the last seconds, from which backgrounds are made."""

    def __init__(self, still: Grey) -> None:
        self._kept = deque([still] * _PICTURES, maxlen=_PICTURES)
        self._last = -1

    def take(self, time_s: float, picture: Grey) -> None:
        """Give it every picture; it keeps the first of every quarter of a second, so that what it
        has does not hang on where reading began, but for the last ``REACH_S``."""
        quarter = int(time_s / _APART_S)
        if quarter > self._last:
            self._last = quarter
            self._kept.append(picture.copy())

    def background(self, box: Box) -> Background:
        """Of one part of the picture."""
        values = _in_order([picture[box.part] for picture in self._kept])
        middle = values[_PICTURES // 2].astype(np.float32)
        spread = (values[-2].astype(np.float32) - values[1]) * _PER_SPREAD
        sd = cv2.GaussianBlur(spread, (0, 0), 1.0)
        return Background.of(box, middle, np.maximum(sd, _LEAST_SD).astype(np.float32))


def _in_order(values: list[Grey]) -> list[Grey]:
    """Pixel by pixel from dark to light: neighbours change places until none need to."""
    values = list(values)
    for turn in range(len(values)):
        for low in range(turn % 2, len(values) - 1, 2):
            one, other = values[low], values[low + 1]
            values[low], values[low + 1] = np.minimum(one, other), np.maximum(one, other)
    return values


def _row_gain(thin: Reals, base: Reals) -> Reals:
    """How much lighter each row is: lamps swing and clouds pass, row by row where the shutter
    rolls. The middle of the row's pixels, and of the rows near by, lest a line of the court that
    lies a little off be taken for light."""
    ratio = np.median((thin + 1) / (base + 1), axis=1)
    beside = min(_ROWS // 2, len(ratio) - 1)
    wide = np.pad(ratio, beside, mode="reflect")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(wide, 2 * beside + 1), axis=1)
    return np.asarray(cv2.blur(middle[:, None], (1, 5), borderType=cv2.BORDER_REPLICATE)[:, 0])


def _thinned(values: Reals, off_px: tuple[float, float], shape: tuple[int, ...]) -> Reals:
    """One of some rows and columns of what lies so many pixels to the right and down."""
    if max(map(abs, off_px)) < _NO_SHIFT_PX:
        return values[::_THIN, ::_SPARSE]
    way = np.array([[_SPARSE, 0, -off_px[0]], [0, _THIN, -off_px[1]]], np.float32)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    size = (shape[1], shape[0])
    return np.asarray(
        cv2.warpAffine(values, way, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), np.float32
    )


def _robust(slopes: Reals, less: Reals) -> NDArray[np.float64]:
    """The step that explains most pixels: least absolute differences by weights."""
    weights: NDArray[np.float64] = np.ones(len(less))
    step: NDArray[np.float64] = np.zeros(2)
    for _ in range(3):
        pull = slopes.T.astype(np.float64) * weights
        step = np.asarray(
            np.linalg.solve(pull @ slopes + 1e-3 * np.eye(2), pull @ less), np.float64
        )
        off = np.abs(less - slopes @ step)
        weights = np.asarray(1 / np.maximum(off, float(np.median(off)) + 0.5), np.float64)
    return np.clip(step, -1, 1)
