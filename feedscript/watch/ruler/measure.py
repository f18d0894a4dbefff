"""Where, to a part of a pixel, the picture has each of the court's lines.

Along each line short profiles are taken across it, and to each a bright strip between two evenly
lit grounds is fitted, as wide as the line is there and blurred as the camera blurs. The grounds
may differ: a court is often painted in another colour than what lies beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from feedscript.watch.camera.camera import Camera, Floats
from feedscript.watch.camera.geometry import project
from feedscript.watch.ruler.paint import Line, placed
from feedscript.watch.ruler.ridges import Picture

#: Profiles are so far apart along a line, for a picture 1280 wide.
_APART_PX = 5.0
#: So wide are strips that are told apart, in pixels.
_WIDTHS_PX = (0.5, 1.0, 1.5, 2.0, 3.0, 4.5, 6.0, 8.0, 11.0, 15.0)
_SHIFT_PX = 0.25  # places that are tried
#: A strip is brighter than both grounds by so many grey steps, and so many times its own misfit.
_LEAST_STEP, _TIMES_MISFIT = 4.0, 2.5
#: A line that is wider than this is not overlooked, worn or not, for a picture 1280 wide.
_CLEAR_PX = 2.0


class Seen(msgspec.Struct, frozen=True, eq=False):
    """What was measured, a row each: which line, how far along it (0 to 1), the unit normal in the
    picture, how far along it the line is from where it was drawn, how well that is known, and
    whether the line is so wide there that nobody could overlook it."""

    line: NDArray[np.int64]
    share: Floats
    normal: Floats  # (n, 2)
    offset_px: Floats
    sd_px: Floats
    clear: NDArray[np.bool_]
    tried: int  # in how many places a line was looked for
    clear_tried: NDArray[np.int64]  # which line, of each of these places where it is so wide


class _Spots(msgspec.Struct, frozen=True, eq=False):
    line: NDArray[np.int64]
    share: Floats
    px: Floats
    normal: Floats
    wide_px: Floats


def measure(
    grey: Picture,
    camera: Camera,
    lines: Sequence[Line],
    loose: Floats,
    aside_m: Floats,
    *,
    gate_px: float,
    blur_px: float,
    apart_px: float = _APART_PX,
) -> Seen:
    """Every line, looked for within ``gate_px`` of where the camera draws it."""
    spots = _spots(camera, lines, loose, aside_m, apart_px)
    found, offset, sd = (np.zeros(len(spots.line)) for _ in range(3))
    values = grey.astype(np.float32)
    nearest = np.abs(np.subtract.outer(spots.wide_px, _WIDTHS_PX)).argmin(1)
    for index, wide_px in enumerate(_WIDTHS_PX):
        mine = nearest == index
        if mine.any():
            reach = float(np.ceil(gate_px + wide_px / 2 + 3 * blur_px + 1))
            profiles = _profiles(values, spots.px[mine], spots.normal[mine], reach)
            fit = _fit(profiles, reach, wide_px, gate_px, blur_px)
            found[mine], offset[mine], sd[mine] = fit
    good = found > 0
    clear = spots.wide_px > _CLEAR_PX * camera.width_px / 1280
    return Seen(
        spots.line[good],
        spots.share[good],
        spots.normal[good],
        offset[good],
        sd[good],
        clear[good],
        len(good),
        spots.line[clear],
    )


def _spots(
    camera: Camera, lines: Sequence[Line], loose: Floats, aside_m: Floats, apart_px: float
) -> _Spots:
    """Places along the lines that are in the picture, evenly apart in it."""
    parts = [
        _along(camera, index, placed(line, loose, aside_m[index]), loose, line, apart_px)
        for index, line in enumerate(lines)
    ]
    columns = [np.concatenate(column) for column in zip(*parts, strict=True)]
    line, share, px, normal, wide = columns
    return _Spots(line.astype(np.int64), share, px, normal, wide)


def _along(
    camera: Camera, index: int, ends_m: Floats, loose: Floats, line: Line, apart_px: float
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    shares = np.linspace(0.0, 1.0, 400)
    points = ends_m[0] + shares[:, None] * (ends_m[1] - ends_m[0])
    px = project(camera, points)
    margin = 6.0
    most = np.array([camera.width_px - 1 - margin, camera.height_px - 1 - margin])
    inside = np.asarray(np.all((px > margin) & (px < most), axis=1))
    steps = np.linalg.norm(np.diff(px, axis=0), axis=1)
    run = np.concatenate([[0.0], np.cumsum(np.where(inside[1:] & inside[:-1], steps, 0.0))])
    count = int(run[-1] / (apart_px * camera.width_px / 1280))
    if count < 4:
        return (np.empty(0), np.empty(0), np.empty((0, 2)), np.empty((0, 2)), np.empty(0))
    # The ends stay out: there lines meet others.
    share = np.interp((np.arange(count) + 0.5) / count * run[-1], run, shares)
    spots = ends_m[0] + share[:, None] * (ends_m[1] - ends_m[0])
    drawn = project(camera, spots)
    ahead = project(
        camera, spots + 0.01 * (ends_m[1] - ends_m[0]) / np.linalg.norm(ends_m[1] - ends_m[0])
    )
    way = ahead - drawn
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    normal = np.column_stack([-way[:, 1], way[:, 0]])
    side = project(camera, spots + line.half_width_m(loose) * line.aside)
    wide = 2 * np.abs(((side - drawn) * normal).sum(1))
    good = np.isfinite(drawn).all(1) & np.isfinite(normal).all(1) & np.isfinite(wide)
    return np.full(good.sum(), index), share[good], drawn[good], normal[good], wide[good]


def _profiles(values: NDArray[np.float32], px: Floats, normal: Floats, reach: float) -> Floats:
    """Grey values across, a pixel apart, from -reach to reach: shape (n, 2 reach + 1)."""
    at = np.arange(-reach, reach + 1)
    places = (px[:, None] + at[:, None] * normal[:, None]).astype(np.float32)
    drawn = cv2.remap(
        values, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return drawn.astype(np.float64)


@lru_cache(maxsize=256)
def _shapes(
    reach: float, wide_px: float, gate_px: float, blur_px: float
) -> tuple[Floats, Floats, Floats]:
    """Places tried, shape (k,); what left ground, strip and right ground are in a profile there,
    shape (k, m, 3); and how a profile tells them, shape (k, 3, m)."""
    at = np.arange(-reach, reach + 1)
    places = np.arange(-gate_px, gate_px + _SHIFT_PX / 2, _SHIFT_PX)
    begun = ndtr((at[None] - places[:, None] + wide_px / 2) / blur_px)
    ended = ndtr((at[None] - places[:, None] - wide_px / 2) / blur_px)
    shapes = np.stack([1 - begun, begun - ended, ended], -1)
    return places, shapes, np.linalg.pinv(shapes)


def _fit(
    profiles: Floats, reach: float, wide_px: float, gate_px: float, blur_px: float
) -> tuple[Floats, Floats, Floats]:
    """Of each profile whether a strip is there (1 or 0), where, and to what standard deviation."""
    places, shapes, tells = _shapes(reach, wide_px, gate_px, blur_px)
    levels = np.einsum("kpm,nm->nkp", tells, profiles)
    misfit = ((np.einsum("kmp,nkp->nkm", shapes, levels) - profiles[:, None]) ** 2).sum(-1)
    step = levels[..., 1] - np.maximum(levels[..., 0], levels[..., 2])
    # A narrow strip is never seen in full: what counts is what is left of it.
    peak = step * min(1.0, wide_px / (2.5 * blur_px))
    misfit = np.where(peak > _LEAST_STEP, misfit, np.inf)
    best = np.clip(misfit.argmin(1), 1, len(places) - 2)
    row = np.arange(len(profiles))
    before, least, after = (misfit[row, best + shift] for shift in (-1, 0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        bend = before - 2 * least + after
        shift = 0.5 * (before - after) / bend
        noise = np.sqrt(least / (profiles.shape[1] - 4))
        sd = noise * _SHIFT_PX / np.sqrt(bend / 2)
    good = np.isfinite(bend) & (bend > 0) & (np.abs(shift) <= 1)
    good &= peak[row, best] > _TIMES_MISFIT * noise
    offset = places[best] + np.where(good, shift, 0.0) * _SHIFT_PX
    return good.astype(np.float64), offset, np.where(good, sd, 1.0)
