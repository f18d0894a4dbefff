"""From the hopper to the wheels: room for the balls, the chute's slope, and the gate's fingers."""

from __future__ import annotations

import math

from feedscript.building.build_file import Build
from feedscript.flight.air import STANDARD_GRAVITY
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.launcher.profile.model import Profile

WIDEST_BALL_M = DEFAULT_BALL.diameter_cm.most / 100
#: Beside and above the widest ball in a chute, together. Common practice, no source.
PLAY_M = 0.008


def rolling_mps2(slope_deg: float) -> float:
    """A ball that rolls down: g sin a / (1 + I / (m r^2)), any text of mechanics."""
    return STANDARD_GRAVITY * math.sin(math.radians(slope_deg)) / (1 + DEFAULT_BALL.inertia_factor)


def gate_to_wheels_m(profile: Profile, build: Build) -> float:
    """How far a ball rolls from the gate in the profile's lead: a t^2 / 2."""
    return rolling_mps2(build.chute_deg) * profile.feeder.gate_lead_s**2 / 2


def hopper_litres(profile: Profile, build: Build) -> float:
    """Room for the profile's balls, poured in."""
    ball_m3 = math.pi * DEFAULT_BALL.diameter_m**3 / 6
    return profile.limits.hopper_balls * ball_m3 / build.hopper_fill * 1000


def chute_m() -> float:
    """Inner width and height of the chute."""
    return WIDEST_BALL_M + PLAY_M


def finger_above_m(finger_mm: float) -> float:
    """How far above the balls' middle a finger's tip reaches where two balls touch.

    At height y two touching balls stand 2 (r - sqrt(r^2 - y^2)) apart: there the finger fits.
    """
    radius_m, half_m = DEFAULT_BALL.radius_m, finger_mm / 2000
    return math.sqrt(radius_m**2 - (radius_m - half_m) ** 2)
