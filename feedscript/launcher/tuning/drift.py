"""Drift: do today's landings still fit the profile?

The profile's own factors are taken as exact. Their slopes span the ways in which a change of the
launcher would move the landings; residuals that lean that way more than chance allows are a drift,
and residuals left over that are wider than the profile's scatter are a spread (chi-squared tests).
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.models import Lanes
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.factors import Factor
from feedscript.launcher.tuning.fit import whitened
from feedscript.launcher.tuning.shots import BY_HAND, Array, Shots, Tape, predicted

#: A drift is reported when chance alone would do as much less often than this.
LEVEL = 0.01
_FAR_OUT = 4.5
_RAYLEIGH_MEDIAN = 1.1774


class Lean(msgspec.Struct, frozen=True):
    """One factor looked at alone: the change that would explain the residuals best."""

    factor: Factor
    change: float
    half: float  # of the 95 % interval
    score: float  # change over its standard deviation


class Drift(msgspec.Struct, frozen=True, eq=False):
    """Whether the landings still fit, and if not, how they lean.

    ``place_chance`` and ``spread_chance``: how often chance alone would do as much. ``leans`` are
    sorted, the likeliest first; several factors often explain the same landings.
    """

    place_chance: float
    spread_chance: float
    shift_m: tuple[float, float]  # median of measured less predicted, along and right
    leans: tuple[Lean, ...]
    residuals: Array
    set_aside: tuple[int, ...]

    @property
    def moved(self) -> bool:
        return self.place_chance < LEVEL

    @property
    def wider(self) -> bool:
        return self.spread_chance < LEVEL

    @property
    def fits(self) -> bool:
        return not (self.moved or self.wider)


def compare(
    profile: Profile,
    shots: Shots,
    base: Conditions,
    tape: Tape = BY_HAND,
) -> Drift:
    """Set landings against a profile as it is."""
    from scipy.stats import chi2

    free, residual, slopes = whitened(profile, shots, base, tape)
    known = shots.known
    inside = _inside(residual, slopes, known.sum(axis=1))
    rows = known[inside].ravel()
    r = residual[inside].ravel()[rows]
    s = slopes[inside].reshape(-1, len(free))[rows]
    q, size, _ = np.linalg.svd(s, full_matrices=False)
    span = q[:, size > 1e-6 * size[0]]
    leaning = float(np.sum((span.T @ r) ** 2))
    rest = float(r @ r) - leaning
    spare = len(r) - span.shape[1]
    leans = [_lean(factor, s[:, i], r) for i, factor in enumerate(free)]
    metres = shots.seen - predicted(profile, shots.settings, base)
    return Drift(
        place_chance=float(chi2.sf(leaning, span.shape[1])),
        spread_chance=float(chi2.sf(rest, spare)) if spare > 0 else 1.0,
        shift_m=(_median(metres[inside, 0]), _median(metres[inside, 1])),
        leans=tuple(sorted(leans, key=lambda lean: -abs(lean.score))),
        residuals=metres,
        set_aside=tuple(sorted(set(range(len(shots))) - set(inside.tolist()))),
    )


def _inside(residual: Array, slopes: Array, count: Array) -> Lanes:
    """Indices of balls that belong to the bulk, wherever the bulk has moved to.

    The bulk's lean is found by three rounds of least squares over the nearer nine tenths.
    """
    n, _, factors = slopes.shape
    chosen: Lanes = np.arange(n)
    distance = np.zeros(n)
    for _ in range(3):
        lean, *_ = np.linalg.lstsq(
            slopes[chosen].reshape(-1, factors), residual[chosen].ravel(), rcond=1e-6
        )
        left = residual - slopes @ lean
        distance = np.sqrt(np.sum(left**2, axis=1) * 2 / np.maximum(count, 1))
        chosen = np.argsort(distance)[: max(int(0.9 * n), min(n, 3))]
    scale = max(float(np.median(distance)) / _RAYLEIGH_MEDIAN, 1.0)
    inside: Lanes = np.flatnonzero(distance <= _FAR_OUT * scale)
    return inside


def _lean(factor: Factor, slopes: Array, residual: Array) -> Lean:
    told = float(slopes @ slopes)
    if told <= 0:
        return Lean(factor, 0.0, float("inf"), 0.0)
    change = -float(slopes @ residual) / told  # slopes are of measured less predicted
    return Lean(factor, change, 1.96 / told**0.5, change * told**0.5)


def _median(values: Array) -> float:
    seen = values[np.isfinite(values)]
    return float(np.median(seen)) if seen.size else 0.0
