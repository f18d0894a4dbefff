"""Every shipped launcher tuned from landings that the product had no part in."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.launcher.kinematics import throw_of
from feedscript.launcher.throw import across_rpm
from feedscript.launcher.tuning.design import design
from feedscript.launcher.tuning.fit import fit
from feedscript.launcher.tuning.shots import Shots, predicted
from tests.launcher.examples import shipped_profiles
from tests.launcher.tuning.by_hand import at_mouth, landings
from tests.launcher.tuning.synthetic import AIR, changed, profile_named

NAMES = [path.stem for path in shipped_profiles()]
#: Tuned always; the others, which ``test_tuning`` tunes in other ways, where tests may take long.
ALWAYS = ("notched-spring", "unequal-wheels", "swinging-head")
BALLS = 6


@pytest.mark.parametrize("name", NAMES)
def test_the_kinematics_are_those_of_the_textbook(name: str) -> None:
    profile = profile_named(name)
    plan = design(profile, AIR)
    assert plan is not None
    for one in plan.proposals:
        throw = throw_of(profile, one.setting)
        across = across_rpm(throw.side_rpm, throw.elevation_deg)
        assert at_mouth(profile, one.setting) == pytest.approx(
            (throw.speed_mps, throw.top_rpm, across), rel=1e-6, abs=1e-6
        )


@pytest.mark.parametrize(
    "name",
    [name if name in ALWAYS else pytest.param(name, marks=pytest.mark.long) for name in NAMES],
)
def test_landings_flown_elsewhere_bring_back_the_launcher_that_threw_them(name: str) -> None:
    """The factors come back within their intervals, and its landings within a hand's breadth."""
    profile = profile_named(name)
    plan = design(profile, AIR)
    assert plan is not None
    random = np.random.default_rng(17)
    truth = changed(profile, random, share=0.5)
    settings = [one.setting for one in plan.proposals]
    measured = landings(truth, settings, BALLS, random)
    seen = np.concatenate([measured, np.full_like(measured, np.nan)], axis=1)
    each = tuple(one for one in settings for _ in range(BALLS))
    shots = Shots(each, seen, tuple(range(len(each))))
    if profile.sweep is not None:
        shots = shots.without_direction()
    found = fit(profile, shots, AIR)
    assert not found.undetermined
    for one in found.factors:
        assert abs(one.value - one.factor.of(truth)) < 2.5 * one.half + 1e-9
    after, true = (predicted(p, settings, AIR)[:, 0] for p in (found.profile, truth))
    before = predicted(profile, settings, AIR)[:, 0]
    assert np.median(np.abs(after - true)) < 0.12
    assert np.median(np.abs(after - true)) < np.median(np.abs(before - true))
