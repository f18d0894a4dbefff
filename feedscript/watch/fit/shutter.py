"""How long the shutter was open, by the streaks that a ball leaves in that time.

A picture's time is that of the shutter's opening (what phones write, from memory); the middle of a
streak is where the ball was half of the exposure later.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.models import Array
from feedscript.watch.fit.solve import Points
from feedscript.watch.fit.view import View

#: Streaks are measured where the ball moves fastest in the picture: in this share of its pictures.
_FASTEST = 0.4
#: A shutter is open no longer than from one picture to the next, nor than this.
_MOST_S = 1 / 24
_LEAST_POINTS = 5
#: All streaks may be too long or too short by this, as noise and a file's packing draw them: px.
_SHARED_PX = 0.5


class Open(msgspec.Struct, frozen=True):
    """The exposure, seconds, and its standard deviation."""

    seconds: float = 0.0
    sd: float = 0.0


def open_time(view: View, flight: Array, points: Points) -> Open:
    """By the middle one of the streaks' lengths over the ball's speed in the picture there."""
    if len(points) < _LEAST_POINTS:
        return Open()
    gap_s = min(float(np.median(np.diff(points.times_s))), _MOST_S)
    apart_s = gap_s / 4
    ends = view.px(flight, np.concatenate([points.times_s - apart_s, points.times_s + apart_s]))[0]
    before, after = np.split(ends, 2)
    way = (after - before) / (2 * apart_s)
    speed = np.linalg.norm(way, axis=1)
    good = np.isfinite(speed) & (speed > 0)
    if good.sum() < _LEAST_POINTS:
        return Open()
    along = 2 * np.abs((points.half_px[good] * way[good]).sum(1)) / speed[good]
    fast = speed[good] >= np.quantile(speed[good], 1 - _FASTEST)
    each = along[fast] / speed[good][fast]
    seconds = float(np.clip(np.median(each), 0.0, gap_s))
    # The median's error, from the median distance to it (normal: 1.4826 and 1.2533, from memory).
    spread = 1.4826 * float(np.median(np.abs(each - np.median(each))))
    shared = _SHARED_PX / float(np.median(speed[good][fast]))
    return Open(seconds, float(np.hypot(1.2533 * spread / np.sqrt(fast.sum()), shared)))
