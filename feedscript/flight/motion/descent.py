"""The way to the ground: when a ball will be there, and the moment it is.

A step is laid so that it should end at the ground. Where it ends close enough, a short step goes
the rest; where it does not, the step is taken again with a better length.
"""

from __future__ import annotations

import numpy as np

from feedscript.flight.models import Array, Mask
from feedscript.flight.motion.equations_of_motion import EquationsOfMotion
from feedscript.flight.motion.events import (
    LEFT_TO_A_SHORT_STEP_S,
    Moment,
    height_of,
    nudged,
    shortly,
)
from feedscript.flight.motion.hermite import root_between, slope_of, value_at


def fall_s(moment: Moment, floor_m: float) -> Array:
    """Time until the floor if gravity, drag and lift stayed as they are; NaN if never.

    For a falling ball below the floor it is negative: how long ago it passed.
    """
    above, climb, push = moment.place[2] - floor_m, moment.state[2], moment.rate[2]
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(climb * climb - 2 * push * above)
        time = np.where(climb <= 0, 2 * above / (root - climb), (climb + root) / -push)
    return np.where((climb > 0) & (push >= 0), np.nan, time)


def close_to_ground(after: Moment, left_s: Array) -> Mask:
    """Which balls are falling and so near the floor that a short step gets them there."""
    near: Mask = (after.state[2] < 0) & (np.abs(left_s) <= LEFT_TO_A_SHORT_STEP_S)
    return near


def touch_down(
    equations: EquationsOfMotion, near: Moment, left_s: Array, floor_m: float, wind: Array
) -> Moment:
    """Balls close to the ground, at the ground."""
    there = shortly(equations, near, left_s, wind)
    return nudged(there, np.nan_to_num(fall_s(there, floor_m)), wind)


def first_dip_s(start: Moment, end: Moment, floor_m: float) -> Array:
    """For balls that turn from falling to rising within a step: when they first pass the floor.

    NaN for those that stay above it (strong backspin close to the ground does both).
    """
    seconds = end.time_s - start.time_s
    poly = height_of(start, end, seconds)
    zero = np.zeros_like(seconds)
    lowest = root_between(slope_of(poly), zero, zero + 1)
    poly[0] -= floor_m
    touched = value_at(poly, lowest) <= 0
    return np.where(touched, root_between(poly, zero, lowest) * seconds, np.nan)
