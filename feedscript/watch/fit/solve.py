"""The flight that fits best: least squares with what is known before, far points counting less."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.models import Array, Mask
from feedscript.watch.fit.view import View

#: So many steps at most; fewer while points are still to be taken anew.
ROUNDS, FEW_ROUNDS = 14, 5
#: Steps shorter than this many standard deviations end it.
_SHORT = 2e-3
#: What a point counts for that the flight does not show, in standard deviations.
_NOT_SHOWN = 5.0
#: What is so far off at most is on the flight, in standard deviations.
_FITS = 3.5
#: Degrees of freedom of the t distribution that points are taken to scatter by: weights as of
#: K. L. Lange, R. J. A. Little & J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989) 881.
_FREEDOM = 4.0


class Points(msgspec.Struct, frozen=True, eq=False):
    """Where the ball was seen: pixels (m, 2), when (m,), from there to either end of its streak,
    (m, 2), and how wide that was, (m,)."""

    times_s: Array
    px: Array
    half_px: Array
    width_px: Array

    def __len__(self) -> int:
        return len(self.times_s)

    def some(self, chosen: Mask) -> Points:
        """Those that are chosen, (m,)."""
        columns = (self.times_s, self.px, self.half_px, self.width_px)
        return Points(*(column[chosen] for column in columns))


class Fitted(msgspec.Struct, frozen=True, eq=False):
    """A flight, shape (22,), and what is left of the points, (m, 2) in pixels.

    ``pull`` is the inverse covariance, slopes' share and the prior's; ``slopes`` (m, 2, 22) the
    pixels' with the unknowns; ``weights`` (m,) what each point counted for in 1/px^2; ``fits``
    (m,) whether the flight goes by there.
    """

    flight: Array
    left_px: Array
    slopes: Array
    weights: Array
    fits: NDArray[np.bool_]
    cost: float

    @property
    def pull(self) -> Array:
        by_points = np.einsum("m,mij,mik->jk", self.weights, self.slopes, self.slopes)
        return np.asarray(by_points + np.eye(len(self.flight)))


def solve(view: View, start: Array, points: Points, sd_px: float, rounds: int = ROUNDS) -> Fitted:
    """The best flight from this start on, by damped Gauss and Newton steps."""
    best = _look(view, start, points, sd_px)
    damp = 1e-2
    for _ in range(rounds):
        downhill = best.flight + np.einsum("m,mij,mi->j", best.weights, best.slopes, best.left_px)
        pull = best.pull
        step = np.linalg.solve(pull + damp * np.diag(np.diag(pull)), downhill)
        step *= min(1.0, 2.0 / float(np.abs(step).max() + 1e-12))
        tried = _look(view, best.flight - step, points, sd_px)
        if tried.cost < best.cost:
            best, damp = tried, damp / 5
            if np.abs(step).max() < _SHORT:
                break
        else:
            damp *= 8
            if damp > 1e4:
                break
    return best


def _look(view: View, flight: Array, points: Points, sd_px: float) -> Fitted:
    px, slopes = view.slopes(flight, points.times_s)
    left = px - points.px
    shown = np.isfinite(left).all(-1) & np.isfinite(slopes).all((1, 2))
    left[~shown], slopes[~shown] = 0.0, 0.0
    square = np.where(shown, (left**2).sum(-1) / sd_px**2, _NOT_SHOWN**2)
    weights = shown * (_FREEDOM + 2) / (_FREEDOM + square) / sd_px**2
    cost = (_FREEDOM + 2) * np.log1p(square / _FREEDOM).sum() + float(flight @ flight)
    return Fitted(flight, left, slopes, weights, shown & (square < _FITS**2), float(cost))


def scale_px(fitted: Fitted) -> float:
    """The standard deviation of one coordinate of the points, by the middle of what is left.

    A length of two coordinates has its median at 1.177 standard deviations (Rayleigh).
    """
    counted = fitted.weights > 0
    if not counted.any():
        return np.inf
    return float(np.median(np.linalg.norm(fitted.left_px[counted], axis=1)) / 1.177)
