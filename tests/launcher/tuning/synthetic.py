"""Landings of a launcher whose factors are known: what tuning must find again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import land
from feedscript.launcher.kinematics import setting_for, throw_of
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.scatter import mouth_samples
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.launcher.tuning.factors import factors_of
from feedscript.launcher.tuning.shots import Shots
from feedscript.shipped import shipped_folder

TAPE_M = 0.04
AIR = Conditions()


def profile_named(name: str) -> Profile:
    profile = read_profile(shipped_folder() / "launchers" / f"{name}.toml").profile
    assert profile is not None
    return profile


def changed(profile: Profile, random: np.random.Generator, share: float = 1.0) -> Profile:
    """The same launcher as it really is: every factor off by up to twice its typical change."""
    for factor in factors_of(profile):
        value = factor.of(profile) + share * random.uniform(-2, 2) * factor.typical
        profile = factor.put(profile, float(np.clip(value, factor.least, factor.most)))
    return profile


def usual_settings(profile: Profile) -> list[Setting]:
    """Settings that a person would try: slow to fast, flat to steep, with both spins."""
    settings = []
    for speed, elevations in ((13.0, (4.0, 12.0, 24.0)), (20.0, (3.0, 10.0)), (27.0, (1.0, 6.0))):
        for elevation in elevations:
            for top in (-1200.0, 0.0, 1800.0):
                throw = Throw(
                    speed_mps=speed, elevation_deg=elevation, azimuth_deg=0.0, top_rpm=top
                )
                setting = setting_for(profile, throw)
                assert isinstance(setting, Setting)
                settings.append(setting)
    return settings


def thrown(
    truth: Profile,
    settings: Sequence[Setting],
    balls: int,
    random: np.random.Generator,
    strays: int = 0,
) -> Shots:
    """Every setting thrown ``balls`` times and measured by tape; a few are written down wrong.

    Written beside the fit's own prediction on purpose: launches come straight from samples at the
    mouth, and strays are metres off.
    """
    mouth = np.concatenate(
        [mouth_samples(truth, throw_of(truth, setting), balls, random) for setting in settings]
    )
    speed, elevation, azimuth, top, side = mouth.T
    launches = Launches.of(
        speed, elevation, azimuth, top_rpm=top, side_rpm=side, z_m=truth.mouth_height_m
    ).thrown_by_wheels()
    tuned = truth.calibration
    ball = AIR.ball.with_factors(tuned.drag_factor, tuned.lift_factor)
    flights = land(launches, Conditions(ball=ball))
    nothing = np.full(len(mouth), np.nan)
    seen = np.stack([flights.landing_y_m, flights.landing_x_m, nothing, nothing], axis=1)
    seen[:, :2] += random.normal(0, TAPE_M, (len(seen), 2))
    wrong = random.choice(len(seen), strays, replace=False)
    seen[wrong, :2] += random.choice([-1, 1], (strays, 2)) * random.uniform(2, 6, (strays, 2))
    repeated = tuple(setting for setting in settings for _ in range(balls))
    return Shots(repeated, seen, tuple(range(2, len(seen) + 2)))
