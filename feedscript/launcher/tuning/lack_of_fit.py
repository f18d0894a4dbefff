"""Bias told apart from scatter, by balls that were thrown more than once at one setting.

What balls of one setting differ by among themselves is scatter ("pure error"), whatever the model
is worth; what the middle of a setting misses the prediction by beyond that is the model's own
mistake ("lack of fit"). The F test of their mean squares: Draper and Smith, Applied Regression
Analysis, 3rd edition, 1998, section 2.1.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.launcher.setting import Setting
from feedscript.launcher.tuning.spread import Array

#: Chance alone does as much as rarely as this where a lack of fit is spoken of.
LEVEL = 0.001


class LackOfFit(msgspec.Struct, frozen=True):
    """How often chance alone would miss as much, and what the settings' middles miss by.

    ``bias_m`` is one root mean square over the settings, along and across, the scatter of the
    middles themselves taken off.
    """

    chance: float
    bias_m: tuple[float, float]

    @property
    def found(self) -> bool:
        """Whether the model misses by more than scatter explains."""
        return self.chance < LEVEL


def groups_of(settings: Sequence[Setting]) -> list[list[int]]:
    """Indices of the balls of each setting."""
    groups: dict[Setting, list[int]] = {}
    for index, setting in enumerate(settings):
        groups.setdefault(setting, []).append(index)
    return list(groups.values())


def lack_of_fit(
    settings: Sequence[Setting], difference: Array, white: Array, whiten: Array, factors: int
) -> LackOfFit | None:
    """The test over balls whose ``factors`` were fitted; None where no setting was repeated.

    ``difference`` (n, 4) is measured less predicted, NaN where not measured; ``white`` the same in
    units of its expected scatter by ``whiten`` (n, 4, 4).
    """
    from scipy.stats import f

    known = np.isfinite(difference)
    pure, middles = 0.0, 0
    groups = groups_of(settings)
    for group in groups:
        left, rank = _about_its_middle(known[group], white[group], whiten[group])
        pure, middles = pure + left, middles + rank
    spare, lacking = int(known.sum()) - middles, middles - factors
    if spare < 2 or lacking < 1:
        return None
    missed = max(float(np.sum(white**2)) - pure, 0.0)
    ratio = (missed / lacking) / max(pure / spare, 1e-12)
    share = lacking / middles
    along, across = (bias_of(groups, difference[:, column], share) for column in (0, 1))
    return LackOfFit(float(f.sf(ratio, lacking, spare)), (along, across))


def _about_its_middle(known: Array, white: Array, whiten: Array) -> tuple[float, int]:
    """Sum of squares of one setting's balls about their best common middle, and its unknowns."""
    columns = np.flatnonzero(known.any(axis=0))
    design = (whiten * known[:, None, :])[:, :, columns].reshape(-1, len(columns))
    middle, _, rank, _ = np.linalg.lstsq(design, white.ravel(), rcond=None)
    return float(np.sum((white.ravel() - design @ middle) ** 2)), int(rank)


def bias_of(groups: Sequence[Sequence[int]], difference: Array, share: float) -> float:
    """Root mean square of what settings' middles miss by, in metres, less what scatter explains.

    ``share`` of the middles' squares is left after the fit (their unknowns less the factors).
    """
    about, middles = about_middles(groups, difference)
    spare = int(np.isfinite(about).sum()) - len(middles)
    if spare < 1 or not middles:
        return 0.0
    variance = float(np.nansum(about**2)) / spare
    squares = sum(middle**2 for middle, _ in middles) / (len(middles) * share)
    chance = variance * float(np.mean([1 / balls for _, balls in middles]))
    return float(max(squares - chance, 0.0) ** 0.5)


def about_middles(
    groups: Sequence[Sequence[int]], difference: Array, weights: Array | None = None
) -> tuple[Array, list[tuple[float, int]]]:
    """Each ball less the (weighted) mean of its setting, (n,); each setting's mean and balls."""
    about = np.full(len(difference), np.nan)
    middles = []
    for group in groups:
        seen = [index for index in group if np.isfinite(difference[index])]
        if seen:
            chosen = None if weights is None else weights[seen]
            middle = float(np.average(difference[seen], weights=chosen))
            about[seen] = difference[seen] - middle
            middles.append((middle, len(seen)))
    return about, middles


class Extra(msgspec.Struct, frozen=True):
    """The change of one more unknown that explains the residuals best, half of its 95 % interval,
    and how often chance alone would explain as much."""

    change: float
    half: float
    chance: float


def extra_sum(residual: Array, slopes: Array, extra: Array, known: int) -> Extra:
    """What one more unknown would explain.

    ``slopes`` (n, factors) were fitted; ``extra`` (n,) is what one unit of the unknown adds. F test
    of the extra sum of squares: Draper and Smith (1998), chapter 6.
    """
    from scipy.stats import f, t

    fitted, *_ = np.linalg.lstsq(slopes, np.stack([extra, residual], axis=1), rcond=1e-9)
    rest, left = (np.stack([extra, residual], axis=1) - slopes @ fitted).T
    told, spare = float(rest @ rest), known - slopes.shape[1] - 1
    if spare < 2 or told < 1e-6 * float(extra @ extra):
        return Extra(0.0, np.inf, 1.0)
    change = float(rest @ left) / told
    unexplained = max(float(left @ left) - change**2 * told, 1e-12)
    half = float(t.ppf(0.975, spare)) * (unexplained / spare / told) ** 0.5
    return Extra(change, half, float(f.sf(change**2 * told / (unexplained / spare), 1, spare)))
