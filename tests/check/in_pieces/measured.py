"""A few balls of a launcher whose factors are known, and the fit to them."""

from __future__ import annotations

from functools import cache

import numpy as np

from feedscript.check.bootstrap import measured_by
from feedscript.check.in_pieces.refits import Measured
from feedscript.launcher.tuning.fit import Fit, fit
from feedscript.launcher.tuning.shots import BY_HAND
from tests.launcher.tuning.synthetic import AIR, profile_named, thrown, usual_settings


@cache
def few_balls() -> tuple[Measured, Fit]:
    """Two balls of every third of the usual settings, landings only."""
    garage = profile_named("garage")
    shots = thrown(garage, usual_settings(garage)[::3], 2, np.random.default_rng(3))
    found = fit(garage, shots, AIR, held=["squeeze", "drag_factor"])
    return measured_by(garage, shots, AIR, BY_HAND, found), found
