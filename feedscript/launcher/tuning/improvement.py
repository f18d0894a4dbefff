"""What tuning is worth: how far balls land from where the profile says, before and after.

A ball is set against a profile that was fitted without any ball of its setting, so that no ball
vouches for itself. The intervals are bootstrap percentiles over whole settings, whose balls share
their bias (Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapters 8 and 13).
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.fit import Fit
from feedscript.launcher.tuning.lack_of_fit import groups_of
from feedscript.launcher.tuning.shots import Array, Shots, Tape, predicted

_DRAWS, _SEED = 2000, 1
_WITHIN = (2.5, 97.5)


class Median(msgspec.Struct, frozen=True):
    """A median in metres and its 95 % interval."""

    value_m: float
    least_m: float
    most_m: float


class Improvement(msgspec.Struct, frozen=True, kw_only=True):
    """Misses of single balls, and of the middles of settings (bias), before and after.

    ``scatter_m`` is the median distance of a ball from the middle of its own setting, made larger
    for how near the middle of few balls lies to each; None where no setting was repeated.
    """

    before: Median
    after: Median
    bias_before: Median
    bias_after: Median
    scatter_m: float | None


def improvement(
    profile: Profile, shots: Shots, base: Conditions, tape: Tape, found: Fit
) -> Improvement | None:
    """What the fit of ``shots`` is worth; None where fewer than three settings were seen."""
    balls = [i for i in range(len(shots)) if _is_seen(shots, i) and i not in found.set_aside]
    some = shots.some(balls)
    groups = groups_of(some.settings)
    if len(groups) < 3:
        return None
    old = some.seen[:, :2] - predicted(profile, some.settings, base)[:, :2]
    new = _held_out(profile, shots, base, tape, found)[balls]
    return Improvement(
        before=_median_of([np.hypot(*old[group].T) for group in groups]),
        after=_median_of([np.hypot(*new[group].T) for group in groups]),
        bias_before=_median_of([np.hypot(*old[group].mean(0))[None] for group in groups]),
        bias_after=_median_of([np.hypot(*new[group].mean(0))[None] for group in groups]),
        scatter_m=_scatter(old, groups),
    )


def _is_seen(shots: Shots, ball: int) -> bool:
    return bool(np.isfinite(shots.seen[ball, :2]).all())


def _held_out(profile: Profile, shots: Shots, base: Conditions, tape: Tape, found: Fit) -> Array:
    """Measured less predicted, (n, 2), each setting by a fit without any of its balls."""
    problem, values, inside = found.problem(profile, shots, base, tape)
    missed = np.full((len(shots), 2), np.nan)
    for group in groups_of(shots.settings):
        others = np.setdiff1d(inside, group)
        tuned = problem.put(problem.solve(values, others, "linear"), profile)
        there = predicted(tuned, [shots.settings[i] for i in group], base)
        missed[group] = shots.seen[group, :2] - there[:, :2]
    return missed


def _median_of(settings: list[Array]) -> Median:
    random = np.random.default_rng(_SEED)
    drawn = random.integers(len(settings), size=(_DRAWS, len(settings)))
    medians = [float(np.median(np.concatenate([settings[k] for k in row]))) for row in drawn]
    least, most = np.percentile(medians, _WITHIN)
    return Median(float(np.median(np.concatenate(settings))), float(least), float(most))


def _scatter(missed: Array, groups: list[list[int]]) -> float | None:
    """The n balls of a setting lie nearer to their own middle than to the true one, by
    sqrt((n - 1) / n)."""
    off = [
        np.hypot(*(missed[group] - missed[group].mean(0)).T)
        * (len(group) / (len(group) - 1)) ** 0.5
        for group in groups
        if len(group) > 1
    ]
    return float(np.median(np.concatenate(off))) if off else None
