"""Bias told apart from scatter: replicates say how wide balls lie, middles what is missed."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from scipy.stats import f

from feedscript.launcher.setting import Setting
from feedscript.launcher.tuning.fit import fit
from feedscript.launcher.tuning.lack_of_fit import lack_of_fit
from feedscript.launcher.tuning.shots import Shots
from tests.launcher.tuning.synthetic import AIR, profile_named, thrown, usual_settings

GARAGE = profile_named("garage")
UNIT = np.eye(4)


def levels(balls: int) -> tuple[tuple[Setting, ...], np.ndarray]:
    settings = tuple(
        Setting(drives=(float(x), float(x)), tilt_deg=0.0, pan_deg=0.0, roll_deg=0.0)
        for x in range(1, 7)
        for _ in range(balls)
    )
    return settings, np.array([one.drives[0] for one in settings])


@pytest.mark.parametrize(("bend", "lacks"), [(0.0, False), (0.5, True)])
def test_the_chance_is_that_of_the_textbooks_table(bend: float, lacks: bool) -> None:
    """A straight line through a bent one; sums of squares as in Draper and Smith (1998), 2.1."""
    settings, x = levels(4)
    y = 2 + 3 * x + bend * x**2 + np.random.default_rng(1).normal(0, 0.5, len(x))
    left = y - np.polyval(np.polyfit(x, y, 1), x)
    pure = sum(np.sum((y[x == level] - y[x == level].mean()) ** 2) for level in range(1, 7))
    chance = f.sf(((np.sum(left**2) - pure) / (6 - 2)) / (pure / (24 - 6)), 4, 18)
    difference = np.full((24, 4), np.nan)
    difference[:, 0] = left
    white = np.nan_to_num(difference)
    found = lack_of_fit(settings, difference, white, np.tile(UNIT, (24, 1, 1)), 2)
    assert found is not None
    assert found.chance == pytest.approx(chance, rel=1e-6)
    assert found.found is lacks


def test_without_a_repeated_setting_nothing_is_told() -> None:
    settings, x = levels(1)
    difference = np.full((6, 4), np.nan)
    difference[:, 0] = x
    white, whiten = np.nan_to_num(difference), np.tile(UNIT, (6, 1, 1))
    assert lack_of_fit(settings, difference, white, whiten, 2) is None


def bent(seed: int) -> Shots:
    """Balls of a launcher whose slip changes from setting to setting, as no factor can."""
    random = np.random.default_rng(seed)
    parts = []
    for index, setting in enumerate(usual_settings(GARAGE)[::2]):
        slip = GARAGE.drive.slip * (1.0 + 0.03 * (-1) ** index)
        truth = msgspec.structs.replace(
            GARAGE, drive=msgspec.structs.replace(GARAGE.drive, slip=slip)
        )
        parts.append(thrown(truth, [setting], 4, random))
    settings = tuple(setting for part in parts for setting in part.settings)
    seen = np.concatenate([part.seen for part in parts])
    return Shots(settings, seen, tuple(range(2, len(settings) + 2)))


def test_a_models_mistake_is_called_bias_and_never_written_as_scatter() -> None:
    found = fit(GARAGE, bent(2), AIR)
    assert found.lack is not None
    assert found.lack.found
    assert 0.2 < found.lack.bias_m[0] < 1.5
    assert found.lack.bias_m[1] < 0.1
    assert found.along.least <= 1.0 <= found.along.most
    assert found.profile.dispersion == GARAGE.dispersion


def test_a_sound_launcher_lacks_nothing() -> None:
    shots = thrown(GARAGE, usual_settings(GARAGE)[::2], 4, np.random.default_rng(3))
    found = fit(GARAGE, shots, AIR)
    assert found.lack is not None
    assert not found.lack.found
