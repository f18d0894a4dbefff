"""Out of reach: which other speed would bring a target in."""

from __future__ import annotations

import numpy as np

from feedscript.flight.aim.range_curve import RangeCurve
from feedscript.flight.models import Array, Mask

SPEEDS_MPS = (3.0, 70.0)
_HALVINGS = 16


def speed_needed(curve: RangeCurve, miss_m: Array) -> Array:
    """The nearest speed that reaches each target, everything else as wished; NaN if none does.

    A throw that falls short needs more speed, one that flies past less. The answer errs by at
    most a millimetre a second on the side that reaches.
    """
    fails = curve.targets.speed_mps.copy()
    works = np.where(miss_m > 0, SPEEDS_MPS[1], SPEEDS_MPS[0])
    possible = _reaches(curve, works, miss_m)
    for _ in range(_HALVINGS):
        middle = (fails + works) / 2
        good = _reaches(curve, middle, miss_m)
        works, fails = np.where(good, middle, works), np.where(good, fails, middle)
    return np.where(possible, works, np.nan)


def _reaches(curve: RangeCurve, speed: Array, miss_m: Array) -> Mask:
    """Whether a throw at this speed goes far enough, or near enough, whichever was missed."""
    moved = curve.with_targets(curve.targets.at_speed(speed))
    low, high = (np.full(len(speed), end) for end in curve.elevations_deg)
    short = miss_m > 0
    edge = np.where(curve.targets.high, high, low)
    result = np.zeros(len(speed), dtype=bool)
    far = np.flatnonzero(short)
    if far.size:
        result[far] = moved.of(far).summit(low[far], high[far])[1] >= 0
    near = np.flatnonzero(~short)
    if near.size:
        result[near] = moved.of(near).along(edge[near])[0] <= 0
    return result
