"""Whether wheels can grip a ball: how hard the gap presses it, and what friction that needs.

The ball is taken for a spring: 18 lbf (80.07 N) press it in by 0.56 to 0.74 cm (ITF Rules of
Tennis, Appendix I, forward deformation of types 1 and 2; from memory). Pressed further it stiffens,
so a straight spring asks for more friction than is needed. It is pressed by x = d - gap, along the
way where the rims stand closer than d: half of it is sqrt(r^2 - (r - x / 2)^2) (geometry). On this
way it comes from rest to its speed under a steady force.
"""

from __future__ import annotations

import math

import msgspec

from feedscript.building.wheels import BALL_KG, Wheeled, WheelWork
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.launcher.profile.drives import OneWheel

_PRESS_N, _PRESS_M = 80.07, 0.0065
STIFFNESS_N_PER_M = _PRESS_N / _PRESS_M
#: A parabola's mean over its highest: how far the ball is pressed in on its way, over the most.
_MEAN_SHARE = 2 / 3
_LEAST_GAP_M = 0.02


class Grip(msgspec.Struct, frozen=True, kw_only=True):
    """The fastest ball between the wheels."""

    squeeze_m: float  # how far it is pressed in at the narrowest
    contact_m: float  # way on which the wheels touch it
    contact_s: float
    press_n: float  # of one wheel, at the narrowest
    needed_friction: float  # coefficient that the fastest ball needs on that way


def grip_at(gap_m: float, drive: Wheeled, work: WheelWork, speed_mps: float) -> Grip:
    """The grip of a gap; an infinite friction is needed where the ball is not pressed at all."""
    diameter_m, radius_m = DEFAULT_BALL.diameter_m, drive.wheel_diameter_m / 2
    squeeze_m = max(diameter_m - gap_m, 0.0)
    depth_m = squeeze_m if isinstance(drive, OneWheel) else squeeze_m / 2
    contact_m = 2 * math.sqrt(max(radius_m**2 - (radius_m - depth_m) ** 2, 0.0))
    press_n = STIFFNESS_N_PER_M * squeeze_m
    force_n = BALL_KG * speed_mps**2 / (2 * contact_m) if contact_m > 0 else math.inf
    held_n = work.count * press_n * _MEAN_SHARE
    return Grip(
        squeeze_m=squeeze_m,
        contact_m=contact_m,
        contact_s=2 * contact_m / speed_mps,
        press_n=press_n,
        needed_friction=force_n / held_n if held_n > 0 else math.inf,
    )


def widest_gap_m(friction: float, drive: Wheeled, work: WheelWork, speed_mps: float) -> float:
    """The widest gap at which this friction is enough, by halving; less pressing needs more."""
    low, high = _LEAST_GAP_M, DEFAULT_BALL.diameter_m
    for _ in range(40):
        middle = (low + high) / 2
        enough = grip_at(middle, drive, work, speed_mps).needed_friction <= friction
        low, high = (middle, high) if enough else (low, middle)
    return low
