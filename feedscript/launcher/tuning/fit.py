"""Tuning: a profile's factors from balls that were watched landing.

Every ball's measurements are set against what the profile predicts, weighted by the scatter that
its dispersion and the tape together explain. A first fit with Cauchy's loss finds where the bulk of
the balls lies; balls far outside it are set aside, and a second, linear-loss fit over the others
gives the factors and their confidence intervals (Student's t over the residuals' own spread). The
profile's dispersion is scaled along and across the throw to what balls of one setting differ by
among themselves; what a setting's middle misses by beyond that is told apart (``lack_of_fit``).
Only where no setting was repeated do the residuals stand for the scatter.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.flight.models import Lanes
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.factors import BY_SPEED, Factor, factors_of
from feedscript.launcher.tuning.lack_of_fit import (
    LEVEL,
    LackOfFit,
    about_middles,
    extra_sum,
    groups_of,
    lack_of_fit,
)
from feedscript.launcher.tuning.shots import (
    BY_HAND,
    Array,
    Shots,
    Tape,
    covariances,
    predicted,
    scatters,
)
from feedscript.launcher.tuning.spread import Spread, scaled_dispersion, spread_of

CONFIDENCE = 0.95
#: A ball this many robust standard deviations out is set aside (normally 1 in 25,000).
_FAR_OUT = 4.5
_RAYLEIGH_MEDIAN = 1.1774
_PASSES = 2
#: So many balls beyond the first of their setting tell the scatter by themselves.
_REPEATED = 8
_BEND = 0.01  # of the slip's power: step of its difference
_DIFFERENCE = 0.05  # of a factor's typical change: step of the differences


class Fitted(msgspec.Struct, frozen=True):
    """One factor: what it was, what it is, and half of its confidence interval."""

    factor: Factor
    before: float
    value: float
    half: float

    @property
    def interval(self) -> tuple[float, float]:
        return self.value - self.half, self.value + self.half

    @property
    def determined(self) -> bool:
        """Whether the interval is narrow enough for the value to be written down."""
        return bool(self.half <= self.factor.useful)

    @property
    def tells_something(self) -> bool:
        """Whether the interval is narrower than what the profile may hold anyway."""
        return bool(2 * self.half < self.factor.most - self.factor.least)


class Fit(msgspec.Struct, frozen=True, eq=False):
    """The outcome. ``set_aside`` are indices of balls that do not belong to the others.

    ``residuals`` is (n, 4): measured less predicted by the new profile.
    """

    profile: Profile
    factors: tuple[Fitted, ...]
    along: Spread
    across: Spread
    residuals: Array
    set_aside: tuple[int, ...]
    lack: LackOfFit | None  # None where no setting was repeated
    held: tuple[str, ...]
    distance_mean: float  # mean square distance of the bulk, 1 where the profile's scatter holds

    def problem(
        self, profile: Profile, shots: Shots, base: Conditions, tape: Tape
    ) -> tuple[Problem, Array, Lanes]:
        """The fit's own problem again, its solution, and the balls that it holds to."""
        free = [one.factor for one in self.factors]
        values = np.array([one.value for one in self.factors])
        again = Problem(profile, shots, base, tape, free).weighted_by(self.profile)
        outside = set(self.set_aside)
        inside: Lanes = np.array([i for i in range(len(shots)) if i not in outside], dtype=int)
        return again, values, inside

    @property
    def undetermined(self) -> tuple[Fitted, ...]:
        return tuple(one for one in self.factors if not one.determined)


def fit(
    profile: Profile,
    shots: Shots,
    base: Conditions,
    tape: Tape = BY_HAND,
    held: Sequence[str] = (),
) -> Fit:
    """Fit every factor that is not ``held``. ``base`` is ball, air and model without calibration.

    Slip that goes with the wheels' speed is taken in where the landings ask for it and determine
    every factor beside it. A fit is always given back; whether it is worth anything is what
    ``undetermined`` says.
    """
    free = [factor for factor in factors_of(profile) if factor.key not in held]
    plain = _fitted(profile, shots, base, tape, free, held)
    more = [one for one in factors_of(profile, by_speed=True) if one.key not in held]
    if len(more) == len(free) or not _goes_with_speed(plain, profile, shots, base, tape):
        return plain
    found = _fitted(profile, shots, base, tape, more, held)
    return plain if found.undetermined else found


def _goes_with_speed(
    plain: Fit, profile: Profile, shots: Shots, base: Conditions, tape: Tape
) -> bool:
    """Whether a slip that goes with speed explains what is left, better than a moved origin."""
    problem, values, inside = plain.problem(profile, shots, base, tape)
    slopes = problem.slopes(values)[inside].reshape(-1, len(values))
    residual = problem.residual(values)[inside].ravel()
    known = int(shots.known[inside].sum())
    bent = next(one for one in factors_of(profile, by_speed=True) if one.key == BY_SPEED)
    tuned = problem.put(values, profile)
    ahead = predicted(bent.put(tuned, _BEND), shots.settings, base)
    bending = (ahead - predicted(tuned, shots.settings, base)) / _BEND
    moving = np.tile([1.0, 0.0, 0.0, 0.0], (len(shots), 1))
    chances = [
        extra_sum(residual, slopes, problem.white(extra)[inside].ravel(), known).chance
        for extra in (bending, moving)
    ]
    return chances[0] < LEVEL and chances[0] <= chances[1]


def _fitted(
    profile: Profile,
    shots: Shots,
    base: Conditions,
    tape: Tape,
    free: Sequence[Factor],
    held: Sequence[str],
) -> Fit:
    problem = Problem(profile, shots, base, tape, free)
    values = np.array([factor.of(profile) for factor in free])
    everyone: Lanes = np.arange(len(shots))
    inside = everyone
    weighted, along, across = profile, Spread.unknown(), Spread.unknown()
    for _ in range(_PASSES):
        problem = problem.weighted_by(problem.put(values, weighted))
        values = problem.solve(values, everyone, "cauchy")
        inside = problem.inside(values)
        values = problem.solve(values, inside, "linear")
        along, across = problem.spreads(values, inside)
        weighted = scaled_dispersion(profile, along, across)
    halves = problem.halves(values, inside)
    found = tuple(
        Fitted(factor, factor.of(profile), float(value), float(half))
        for factor, value, half in zip(free, values, halves, strict=True)
    )
    tuned = problem.put(values, weighted)
    outside = tuple(sorted(set(range(len(shots))) - set(inside.tolist())))
    residuals = shots.seen - predicted(tuned, shots.settings, base)
    lack, mean = problem.lacking(values, inside), problem.distance_mean(values, inside)
    return Fit(tuned, found, along, across, residuals, outside, lack, tuple(held), mean)


class Problem(msgspec.Struct, frozen=True, eq=False):
    profile: Profile
    shots: Shots
    base: Conditions
    tape: Tape
    free: Sequence[Factor]
    whiten: Array | None = None  # (n, 4, 4): inverse Cholesky factors of the expected scatter

    def weighted_by(self, profile: Profile) -> Problem:
        """The same with weights from the scatter that ``profile`` leads to expect."""
        scatter = covariances(profile, self.shots, self.base, self.tape)
        missing = ~self.shots.known
        scatter[missing, :] = 0.0
        scatter.swapaxes(1, 2)[missing, :] = 0.0
        row, column = np.nonzero(missing)
        scatter[row, column, column] = 1.0
        whiten = np.linalg.inv(np.linalg.cholesky(scatter))
        return Problem(self.profile, self.shots, self.base, self.tape, self.free, whiten)

    def put(self, values: Array, profile: Profile) -> Profile:
        for factor, value in zip(self.free, values, strict=True):
            profile = factor.put(profile, float(value))
        return profile

    def white(self, difference: Array) -> Array:
        """Measurements in units of their expected scatter, (n, 4); missing ones zero."""
        assert self.whiten is not None
        filled = np.where(self.shots.known, np.nan_to_num(difference, nan=1e3), 0.0)
        white: Array = np.einsum("nij,nj->ni", self.whiten, filled)
        return white

    def residual(self, values: Array) -> Array:
        tuned = self.put(values, self.profile)
        return self.white(self.shots.seen - predicted(tuned, self.shots.settings, self.base))

    def slopes(self, values: Array) -> Array:
        """Derivatives of the residuals, (n, 4, factors)."""
        here, columns = self.residual(values), []
        for index, factor in enumerate(self.free):
            step = np.zeros(len(self.free))
            step[index] = _DIFFERENCE * factor.typical
            columns.append((self.residual(values + step) - here) / step[index])
        return np.stack(columns, axis=-1)

    def solve(self, start: Array, chosen: Lanes, loss: str) -> Array:
        from scipy.optimize import least_squares

        low = np.array([factor.least for factor in self.free])
        high = np.array([factor.most for factor in self.free])
        typical = np.array([factor.typical for factor in self.free])
        found = least_squares(
            lambda values: self.residual(values)[chosen].ravel(),
            np.clip(start, low + 1e-9, high - 1e-9),
            jac=lambda values: self.slopes(values)[chosen].reshape(-1, len(self.free)),
            bounds=(low, high),
            x_scale=typical,
            loss=loss,
            f_scale=1.5,
            xtol=1e-6,
            ftol=1e-7,
            max_nfev=60,
        )
        values: Array = found.x
        return values

    def inside(self, values: Array) -> Lanes:
        """Indices of the balls that belong to the bulk."""
        count = self.shots.known.sum(axis=1)
        distance = np.sqrt(np.sum(self.residual(values) ** 2, axis=1) * 2 / np.maximum(count, 1))
        scale = np.median(distance) / _RAYLEIGH_MEDIAN
        return np.flatnonzero(distance <= _FAR_OUT * max(float(scale), 0.5))

    def halves(self, values: Array, inside: Lanes) -> Array:
        """Half of each factor's confidence interval; endless where nothing can be said."""
        from scipy.stats import t

        known = int(self.shots.known[inside].sum())
        spare = known - len(self.free)
        if spare < 1:
            return np.full(len(self.free), np.inf)
        typical = np.array([factor.typical for factor in self.free])
        slopes = self.slopes(values)[inside].reshape(-1, len(self.free)) * typical
        spread = float(np.sum(self.residual(values)[inside] ** 2)) / spare
        left, size, right = np.linalg.svd(slopes, full_matrices=False)
        del left
        if size[-1] < 1e-9 * size[0]:
            size = np.maximum(size, 1e-12)
        variance = np.sum((right / size[:, None]) ** 2, axis=0) * max(spread, 1e-12)
        wide: Array = t.ppf(0.5 + CONFIDENCE / 2, spare) * np.sqrt(variance) * typical
        return wide

    def spreads(self, values: Array, inside: Lanes) -> tuple[Spread, Spread]:
        """The launcher's scatter along and across the throw, over what the profile says."""
        tuned = self.put(values, self.profile)
        some = self.shots.some(inside)
        difference = some.seen - predicted(tuned, some.settings, self.base)
        across_free = sum(factor.key == "azimuth_offset_deg" for factor in self.free)
        scatter = scatters(tuned, some.settings, self.base)
        tape = some.measuring(self.tape)
        fitted = (len(self.free) - across_free, across_free)
        along, across = (
            _spread(some, difference[:, k], scatter[:, k, k], tape[:, k, k], fitted[k])
            for k in (0, 1)
        )
        return along, across

    def lacking(self, values: Array, inside: Lanes) -> LackOfFit | None:
        """Bias told from scatter. A setting whose every ball was set aside is no stray."""
        assert self.whiten is not None
        belonging = _with_whole_settings(self.shots, inside)
        some = self.shots.some(belonging)
        difference = some.seen - predicted(self.put(values, self.profile), some.settings, self.base)
        white = self.residual(values)[belonging]
        return lack_of_fit(some.settings, difference, white, self.whiten[belonging], len(self.free))

    def distance_mean(self, values: Array, inside: Lanes) -> float:
        """Mean square of the bulk's residuals in units of the profile's own scatter."""
        known = int(self.shots.known[inside].sum())
        own = self.weighted_by(self.put(values, self.profile))
        return float(np.sum(own.residual(values)[inside] ** 2)) / max(known, 1)


def redrawn(problem: Problem, values: Array, inside: Lanes, random: np.random.Generator) -> Array:
    """The factors that as many balls would give, drawn again from those ``inside``, each with its
    setting ("bootstrapping pairs": Efron and Tibshirani, An Introduction to the Bootstrap, 1993,
    chapter 9)."""
    return problem.solve(values, random.choice(inside, len(inside)), "linear")


def _spread(shots: Shots, difference: Array, scatter: Array, tape: Array, fitted: int) -> Spread:
    """Scatter about each setting's own middle where settings were repeated, else the residuals'."""
    groups = groups_of(shots.settings)
    about, middles = about_middles(groups, difference, 1 / np.maximum(scatter + tape, 1e-12))
    repeated = int(np.isfinite(about).sum()) - len(middles)
    if repeated < _REPEATED:
        return spread_of(difference, scatter, tape, fitted)
    return spread_of(about, scatter, tape, len(middles))


def _with_whole_settings(shots: Shots, inside: Lanes) -> Lanes:
    """The balls inside, and those of settings that were repeated and lie wholly outside."""
    chosen = set(inside.tolist())
    for group in groups_of(shots.settings):
        if len(group) > 1 and not chosen & set(group):
            chosen |= set(group)
    belonging: Lanes = np.array(sorted(chosen), dtype=int)
    return belonging


def information(
    profile: Profile,
    shots: Shots,
    base: Conditions,
    tape: Tape,
    held: Sequence[str] = (),
) -> tuple[tuple[Factor, ...], Array]:
    """What each ball can tell of each factor: Fisher information, (n, factors, factors).

    In units of each factor's typical change, at the profile's own values.
    """
    free = tuple(factor for factor in factors_of(profile) if factor.key not in held)
    problem = Problem(profile, shots, base, tape, free).weighted_by(profile)
    values = np.array([factor.of(profile) for factor in free])
    typical = np.array([factor.typical for factor in free])
    slopes = problem.slopes(values) * typical
    told: Array = np.einsum("nip,niq->npq", slopes, slopes)
    return free, told


def whitened(
    profile: Profile, shots: Shots, base: Conditions, tape: Tape
) -> tuple[tuple[Factor, ...], Array, Array]:
    """Residuals of the profile as it is, (n, 4), and their slopes, (n, 4, factors).

    In units of the scatter that the profile and the tape lead to expect.
    """
    free = factors_of(profile)
    problem = Problem(profile, shots, base, tape, free).weighted_by(profile)
    values = np.array([factor.of(profile) for factor in free])
    return free, problem.residual(values), problem.slopes(values)
