"""Intervals by balls drawn again, held to how fits scatter that are made to fresh balls."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.check.bootstrap import Bootstrap, bootstrap, measured_by
from feedscript.launcher.tuning.fit import Fit, fit
from feedscript.launcher.tuning.shots import BY_HAND, Shots
from tests.check.in_pieces.measured import few_balls
from tests.launcher.tuning.synthetic import AIR, profile_named, thrown, usual_settings

GARAGE = profile_named("garage")
HELD = ("squeeze", "drag_factor", "elevation_offset_deg")
#: Standard deviations in the middle 95 % of the normal law.
WIDE = 2 * 1.96


def balls(seed: int) -> Shots:
    """Thrown by the profile as it is. The faster settings stray to the side three times as far as
    it says."""
    random = np.random.default_rng(seed)
    shots = thrown(GARAGE, usual_settings(GARAGE), 3, random)
    seen = shots.seen.copy()
    aside = seen[:, 0] > np.median(seen[:, 0])
    seen[aside, 1] *= 3.0
    return Shots(shots.settings, seen, shots.lines)


def fitted(shots: Shots) -> Fit:
    return fit(GARAGE, shots, AIR, held=HELD)


def again(shots: Shots, found: Fit, refits: int) -> Bootstrap:
    return bootstrap(measured_by(GARAGE, shots, AIR, BY_HAND, found), found, refits, 1)


def test_so_many_refits_are_made_as_were_asked_for() -> None:
    made = []

    def watch(what, steps, most):
        for step in steps:
            made.append(len(step.values))
            yield step

    case, found = few_balls()
    told = bootstrap(case, found, 24, 1, watch=watch)
    assert (made, told.refits) == ([10, 10, 4], 24)
    for one, fitting in zip(told.intervals, found.factors, strict=True):
        assert one.least < fitting.value < one.most


@pytest.mark.long
@pytest.mark.timeout(900)
def test_the_width_is_that_of_fits_to_fresh_balls() -> None:
    """Where the scatter is not as the profile says: the mean width of 12 bootstraps within a fifth
    of what 200 fits to fresh balls scatter by (whose own standard error is a twentieth)."""
    fits = [fitted(balls(seed)) for seed in range(100, 300)]
    truth = WIDE * np.std([[one.value for one in found.factors] for found in fits], axis=0, ddof=1)
    widths = []
    for seed in range(100, 112):
        told = again(balls(seed), fits[seed - 100], 300)
        widths.append([one.most - one.least for one in told.intervals])
    assert np.abs(np.mean(widths, axis=0) / truth - 1).max() < 0.2
