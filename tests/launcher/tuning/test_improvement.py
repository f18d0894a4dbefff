"""What tuning says it is worth, held to balls that are thrown afterwards at the same settings."""

from __future__ import annotations

import numpy as np

from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.fit import fit
from feedscript.launcher.tuning.improvement import improvement
from feedscript.launcher.tuning.shots import BY_HAND, Shots, predicted
from tests.launcher.tuning.synthetic import AIR, changed, profile_named, thrown, usual_settings

GARAGE = profile_named("garage")


def median_miss(profile: Profile, shots: Shots) -> float:
    return float(
        np.median(np.hypot(*(shots.seen - predicted(profile, shots.settings, AIR))[:, :2].T))
    )


def test_the_misses_told_are_those_of_balls_thrown_afterwards() -> None:
    random = np.random.default_rng(8)
    truth = changed(GARAGE, random)
    settings = usual_settings(GARAGE)[::3]
    shots = thrown(truth, settings, 3, random)
    found = fit(GARAGE, shots, AIR)
    gain = improvement(GARAGE, shots, AIR, BY_HAND, found)
    assert gain is not None
    afterwards = thrown(truth, settings, 20, random)
    for told, profile in ((gain.before, GARAGE), (gain.after, found.profile)):
        assert told.least_m <= median_miss(profile, afterwards) <= told.most_m
    assert gain.after.most_m < gain.before.least_m
    assert gain.bias_after.value_m < gain.after.value_m
    # The scatter is that of the balls about the truth's own middles.
    middles = shots.seen - predicted(truth, shots.settings, AIR)
    assert gain.scatter_m is not None
    assert abs(gain.scatter_m / np.median(np.hypot(*middles[:, :2].T)) - 1) < 0.25


def test_two_settings_tell_nothing_of_others() -> None:
    random = np.random.default_rng(8)
    shots = thrown(GARAGE, usual_settings(GARAGE)[:2], 4, random)
    assert improvement(GARAGE, shots, AIR, BY_HAND, fit(GARAGE, shots, AIR)) is None
