"""Stills of courts, drawn quickly: flat paint, the scene's own lens, painters who are not exact.

The scene's painter takes seconds a picture and paints every court to the millimetre. Here a court
is drawn in a tenth of that time, and its painter strays as the rules let him: widths are drawn
from the ranges of Rule 1, whole lines lie aside by some millimetres, and the net's strap is not
quite right. Polygons are filled at four times the size and made smaller, which leaves a line's
middle where it is.
"""

from __future__ import annotations

import cv2
import msgspec
import numpy as np

from tests.watch.scene.court import (
    BACK_SD_M,
    BAND_M,
    CENTRE_SD_M,
    DOUBLES_SD_M,
    FULL,
    INCH_M,
    MARK_LONG_M,
    SERVICE_SD_M,
    SINGLES_SD_M,
    Ground,
    Strip,
)
from tests.watch.scene.lens import Lens

FINE = 4


class Painted(msgspec.Struct, frozen=True, kw_only=True):
    """One court as one painter left it: strips on the ground, and the net's cord."""

    strips: tuple[Strip, ...]
    ground: Ground
    strap_off_m: float = 0.0
    net: bool = True


def exact(ground: Ground = FULL) -> Painted:
    return Painted(strips=ground.strips(), ground=ground)


def painted(random: np.random.Generator) -> Painted:
    """A full court with lines 1 to 2 in wide, baselines 2 to 4 in, each a little aside."""
    narrow = random.uniform(1, 2) * INCH_M
    base = random.uniform(2, 4) * INCH_M
    strips = []
    singles, back, serve = FULL.singles_m or 0.0, FULL.half_long_m, FULL.service_m
    for outer in (FULL.half_wide_m, singles):
        for side in (-1, 1):
            off = random.normal(0, DOUBLES_SD_M if outer > singles else SINGLES_SD_M)
            west, east = sorted((side * outer, side * (outer - narrow)))
            strips.append(Strip(west + off, east + off, -back, back))
    for depth, wide, reach in ((back, base, FULL.half_wide_m), (serve, narrow, singles)):
        for end in (-1, 1):
            off = random.normal(0, BACK_SD_M if depth > serve else SERVICE_SD_M)
            south, north = sorted((end * depth, end * (depth - wide)))
            strips.append(Strip(-reach, reach, south + off, north + off))
    off = random.normal(0, CENTRE_SD_M)
    strips.append(Strip(off - INCH_M, off + INCH_M, -serve, serve))
    strips += [
        Strip(-INCH_M, INCH_M, *sorted((end * back, end * (back - MARK_LONG_M)))) for end in (-1, 1)
    ]
    return Painted(strips=tuple(strips), ground=FULL, strap_off_m=float(random.normal(0, 0.012)))


def draw(
    lens: Lens,
    courts: Painted | tuple[Painted, ...],
    random: np.random.Generator,
    *,
    noise: float = 1.5,
    soft_px: float = 0.6,
    levels: tuple[float, float, float] = (96.0, 82.0, 222.0),
) -> np.ndarray:
    """Grey, (height, width); ``levels``: court, what lies beside it, paint."""
    courts = courts if isinstance(courts, tuple) else (courts,)
    inside, around, paint = levels
    size = (lens.height * FINE, lens.width * FINE)
    picture = np.full(size, around * 0.5, np.uint8)
    first = courts[0].ground
    field = Strip(-first.fence_x_m, first.fence_x_m, -first.fence_y_m, first.fence_y_m)
    wide, long = first.half_wide_m, first.half_long_m
    _fill(picture, lens, _ring(field), around)
    _fill(picture, lens, _ring(Strip(-wide, wide, -long, long)), inside)
    for court in courts:
        for strip in court.strips:
            _fill(picture, lens, _ring(strip), paint)
    for court in courts:
        if court.net:
            _draw_net(picture, lens, court, paint)
    picture = cv2.GaussianBlur(picture, (0, 0), soft_px * FINE)
    picture = cv2.resize(picture, (lens.width, lens.height), interpolation=cv2.INTER_AREA)
    grain = random.normal(0, noise, picture.shape).astype(np.float32)
    return np.clip(picture + grain + 0.5, 0, 255).astype(np.uint8)


def _ring(strip: Strip) -> np.ndarray:
    """A strip's edge, many short steps round, so that it bends as the lens bends."""
    steps = np.linspace(0, 1, 60)[:, None]
    corners = np.array(
        [
            [strip.west, strip.south, 0],
            [strip.east, strip.south, 0],
            [strip.east, strip.north, 0],
            [strip.west, strip.north, 0],
        ]
    )
    return np.concatenate(
        [a + steps * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    )


def _draw_net(picture: np.ndarray, lens: Lens, court: Painted, paint: float) -> None:
    x = np.linspace(-court.ground.post_m, court.ground.post_m, 121)
    near = np.clip(1 - np.abs(x) / court.ground.post_m, 0, 1)
    top = court.ground.cord_m(x) + court.strap_off_m * near
    band = np.column_stack([x, 0 * x, top]), np.column_stack([x, 0 * x, top - BAND_M])
    _fill(picture, lens, np.concatenate([band[0], band[1][::-1]]), paint)
    high = court.ground.cord_middle_m + court.strap_off_m
    sides = [(-INCH_M, 0.0), (INCH_M, 0.0), (INCH_M, high), (-INCH_M, high)]
    _fill(picture, lens, np.array([(x, 0.0, z) for x, z in sides]), paint)


def _fill(picture: np.ndarray, lens: Lens, ring: np.ndarray, level: float) -> None:
    """What of the ring is before the camera and about in the picture, filled."""
    depth = lens.seen_from(ring)[:, 2]
    if depth.max() < 0.5:
        return
    ring = _before(ring, depth)
    pixels, _ = lens.project(ring)
    fine = np.clip((pixels + 0.5) * FINE - 0.5, -4e4, 4e4)
    cv2.fillPoly(picture, [np.round(fine * 16).astype(np.int32)], float(level), cv2.LINE_AA, 4)


def _before(ring: np.ndarray, depth: np.ndarray, least: float = 0.5) -> np.ndarray:
    """The ring cut where it comes nearer to the camera's plane than ``least`` (Sutherland and
    Hodgman's way with one edge)."""
    kept = []
    for here, there, near, far in zip(
        ring, np.roll(ring, -1, 0), depth, np.roll(depth, -1), strict=True
    ):
        if near >= least:
            kept.append(here)
        if (near >= least) != (far >= least):
            kept.append(here + (there - here) * (least - near) / (far - near))
    return np.array(kept)
