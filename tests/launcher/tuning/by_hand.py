"""What each kind of launcher throws and where it lands, worked out apart from the product.

The mouth is stated again from textbook physics, kind by kind; balls stray and fly by SciPy
(``tests.safety.flown_by_scipy``) to where they first come down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.flight.bounce import SURFACES
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.drives import (
    Air,
    Arm,
    OneWheel,
    Spring,
    ThreeWheels,
    TwoWheels,
    Valve,
)
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.plan.model import AimedFeed
from tests.safety.flown_by_scipy import ways
from tests.safety.scenes import scene

TURN = 2 * math.pi / 60
TAPE_M = 0.04


def at_mouth(profile: Profile, setting: Setting) -> tuple[float, float, float]:
    """Ball speed in m/s, topspin and spin across in rpm."""
    drive, first = profile.drive, setting.drives[0]
    match drive:
        case TwoWheels():
            sizes = (
                drive.wheel_diameter_m,
                drive.bottom_wheel_diameter_m or drive.wheel_diameter_m,
            )
            upper, lower = (d / 2 * n * TURN for d, n in zip(sizes, setting.drives, strict=True))
            spin = drive.slip * (upper - lower) / (drive.squeeze * drive.gap_m) / TURN
            roll = math.radians(setting.roll_deg)
            speed = drive.slip * (upper + lower) / 2
            return speed, spin * math.cos(roll), -spin * math.sin(roll)
        case ThreeWheels():
            return _three(drive, setting)
        case OneWheel():
            speed = drive.slip * drive.wheel_diameter_m / 2 * first * TURN / 2
            return speed, drive.rolling_share * speed / (drive.gap_m / 2) / TURN, 0.0
        case Arm():
            speed = drive.slip * drive.arm_m * first * TURN
            return speed, drive.spin_share * speed / drive.ball_radius_m / TURN, 0.0
        case Spring():
            stored_j = drive.stiffness_n_per_m * (first / 1000) ** 2 / 2
            mass_kg = (drive.ball_mass_g + drive.moving_mass_g) / 1000
            speed = math.sqrt(2 * drive.efficiency * stored_j / mass_kg)
            return speed, drive.spin_share * speed / drive.ball_radius_m / TURN, 0.0
        case Valve():
            openings, speeds = np.array(drive.table).T
            return drive.speed_factor * float(np.interp(first, openings, speeds)), 0.0, 0.0
        case Air():
            return _blown(drive, first), 0.0, 0.0


def _three(drive: ThreeWheels, setting: Setting) -> tuple[float, float, float]:
    """The ball's surface moves with each wheel where that touches it: three equations, solved."""
    lever_m = drive.squeeze * drive.gap_m / 2
    rows, rims = [], []
    for number, rpm in enumerate(setting.drives):
        turn = math.radians(drive.first_wheel_deg + 120 * number)
        rows.append([1.0, lever_m * math.cos(turn), -lever_m * math.sin(turn)])
        rims.append(drive.slip * drive.wheel_diameter_m / 2 * rpm * TURN)
    speed, top, across = np.linalg.solve(np.array(rows), np.array(rims)).tolist()
    return speed, top / TURN, across / TURN


def _blown(drive: Air, hpa: float) -> float:
    """The push of the tank's air, summed along the barrel in steps of a thousandth of it."""
    tank, area = drive.tank_litres / 1000, math.pi * drive.bore_m**2 / 4
    step_m, work_j = drive.barrel_m / 1000, 0.0
    for k in range(1000):
        grown = (tank + area * step_m * (k + 0.5)) / tank
        work_j += ((101325 + 100 * hpa) * grown**-1.4 - 101325) * area * step_m
    return math.sqrt(2 * drive.efficiency * work_j / (drive.ball_mass_g / 1000))


def landings(
    profile: Profile, settings: Sequence[Setting], balls: int, random: np.random.Generator
) -> np.ndarray:
    """Along and right of below the mouth, tape included: (settings * balls, 2)."""
    return np.concatenate([_of_one(profile, one, balls, random) for one in settings])


def _of_one(
    profile: Profile, setting: Setting, balls: int, random: np.random.Generator
) -> np.ndarray:
    tuned = profile.calibration
    speed, top, across = at_mouth(profile, setting)
    up = setting.tilt_deg + tuned.elevation_offset_deg
    feed: AimedFeed = msgspec.structs.replace(
        scene().feeds[0],
        speed_mps=speed,
        elevation_deg=up,
        azimuth_deg=setting.pan_deg + tuned.azimuth_offset_deg,
        top_rpm=top,
        side_rpm=across / math.cos(math.radians(up)),
    )
    base = Conditions()
    ball = base.ball.with_factors(tuned.drag_factor, tuned.lift_factor)
    conditions = msgspec.structs.replace(base, ball=ball)
    mouth_m = (0.0, 0.0, profile.mouth_height_m)
    if profile.sweep is not None:
        band = profile.sweep.band_deg
        ahead = feed.azimuth_deg
        each = [
            msgspec.structs.replace(feed, azimuth_deg=ahead + random.uniform(band.least, band.most))
            for _ in range(balls)
        ]
        found = [_down(one, mouth_m, profile, conditions, 1, random) for one in each]
        return np.concatenate(found)
    return _down(feed, mouth_m, profile, conditions, balls, random)


def _down(
    feed: AimedFeed,
    mouth_m: tuple[float, float, float],
    profile: Profile,
    conditions: Conditions,
    balls: int,
    random: np.random.Generator,
) -> np.ndarray:
    """Where each ball is as its middle first comes down to its radius; by straight lines between
    moments of 5 ms."""
    flown = ways(feed, mouth_m, profile, conditions, SURFACES["hard"], balls, random)
    found = []
    for path in flown.place_m:
        after = int(np.argmax(path[:, 2] <= flown.radius_m + 1e-9))
        before = path[after - 1]
        share = (before[2] - flown.radius_m) / max(before[2] - path[after][2], 1e-9)
        there = before + np.clip(share, 0.0, 1.0) * (path[after] - before)
        found.append((there[1], there[0]))
    return np.array(found) + random.normal(0, TAPE_M, (balls, 2))
