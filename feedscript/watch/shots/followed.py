"""Until when the fed ball is seen to fly on as it came: as long as it does, nobody has hit it.

A ball is in one place at a time. What is seen on the fed ball's way is that ball and not a shot;
from behind the launcher its own way looks much like one back.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.models import Array, Mask
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.seek.blobs import Blobs
from feedscript.watch.shots.gather import Back
from feedscript.watch.shots.prior import Way

#: A blob is the fed ball within so much of its way, for a picture 1280 wide; the way is
#: extrapolated, and is told a little wrong.
_ON_PX = 3.0
#: It is there where it is seen in this share of the pictures of so long before. Design values.
_SHARE, _SPAN_S = 0.6, 0.15
_LEAST_PICTURES = 4
#: Away from the camera, or towards it, a ball that was hit stays near that way so long.
_UNSURE_S = 0.1
#: A way that is seen to so near its second bounce was flown to its end.
_END_S = 0.08


class Followed(msgspec.Struct, frozen=True, eq=False):
    """The fed ball as it is seen to fly on."""

    surely_s: float  # nobody hit it before; -inf where it is not seen at all
    let_go: bool  # it flew on to its second bounce
    rest: Back  # without what is this ball


def followed(camera: Camera, way: Way, back: Back) -> Followed:
    """What of all that was seen is the fed ball on its way (known from its own fit)."""
    times = back.times_s
    px = _way_px(camera, way, times)
    size = (camera.width_px, camera.height_px)
    shown = np.asarray(np.isfinite(px).all(-1) & (px > 0).all(-1) & (px < size).all(-1))
    off = [_off_px(blobs, at) for blobs, at in zip(back.blobs, px, strict=True)]
    gate_px = _ON_PX * camera.width_px / 1280
    on = shown & np.array([len(each) > 0 and each.min() < gate_px for each in off], bool)
    until_s = _until_s(times, shown, on)
    mine = on & (times < until_s - _UNSURE_S)
    blobs = tuple(
        each.some(away >= gate_px) if its else each
        for each, away, its in zip(back.blobs, off, mine, strict=True)
    )
    let_go = way.down and until_s > float(way.times_s[-1]) - _END_S
    return Followed(until_s - _UNSURE_S, let_go, msgspec.structs.replace(back, blobs=blobs))


def _way_px(camera: Camera, way: Way, times_s: Array) -> Array:
    """(n, 2); NaN before and after the way."""
    px = project(camera, way.places_m)
    rows = np.interp(times_s, way.times_s, px[:, 1])
    at_s = times_s + camera.row_time_s * np.nan_to_num(rows)
    found = np.column_stack([np.interp(at_s, way.times_s, px[:, axis]) for axis in (0, 1)])
    found[(at_s < way.times_s[0]) | (at_s > way.times_s[-1])] = np.nan
    return np.asarray(found)


def _off_px(blobs: Blobs, at: Array) -> Array:
    return np.hypot(*(blobs.middle_px - at).T) if len(blobs) else np.empty(0)


def _until_s(times_s: Array, shown: Mask, on: Mask) -> float:
    """The last picture with it before which it is seen mostly."""
    for one in np.flatnonzero(on)[::-1]:
        span = shown & (times_s <= times_s[one]) & (times_s > times_s[one] - _SPAN_S)
        if span.sum() >= _LEAST_PICTURES and on[span].mean() >= _SHARE:
            return float(times_s[one])
    return -np.inf
