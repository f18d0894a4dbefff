"""Where fed balls really landed against where they were asked to, by films: bias and scatter apart.

For each feed of each launcher, over its balls that a film measured: the mean of how far they were
off is the bias, their spread about it the scatter. What each ball's own place is known no better
than is taken off the scatter; what all of a film's balls have in common, where its camera stands,
makes no scatter and does not grow less with more balls, so it is added to the bias's region whole.
The region of the mean is Hotelling's (H. Hotelling, "The generalization of Student's ratio", Ann.
Math. Statist. 2 (1931) 360).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.journal.films import LandingSeen, Spread
from feedscript.review.report.lesson import Ball
from feedscript.watch.region import WITHIN_95, region_95

Floats = NDArray[np.float64]
Pair = tuple[float, float]

#: A mean and a spread of two coordinates take three balls (their region has n - 2 freedoms).
LEAST_BALLS = 3


class Place(msgspec.Struct, frozen=True):
    """One ball: where it was to land and where it did, with its 95 % region, in court axes.

    ``region_m`` are the half axes, and ``turn_deg`` the longer one's turn from x towards y.
    """

    number: int
    asked_m: Pair
    landing_m: Pair
    region_m: Pair
    turn_deg: float


class Bias(msgspec.Struct, frozen=True):
    """The mean of how far balls were off, and the spread about it (standard deviations), metres.

    x to the right as the launcher looks, y deeper. ``clear``: no bias at all is outside the region.
    """

    off_m: Pair
    region_m: Pair
    turn_deg: float
    scatter_m: Pair
    clear: bool


class Landed(msgspec.Struct, frozen=True):
    """The balls of one feed from one launcher. ``unseen``: how many are not known, by reason;
    ``refused`` those that a person said are no such balls; ``bias`` None with too few."""

    kind: str
    launcher: int
    fed: int
    places: tuple[Place, ...]
    unseen: dict[str, int]
    refused: int
    bias: Bias | None


def landed_of(balls: Iterable[Ball]) -> tuple[Landed, ...]:
    """Feed by feed, in the order of their first balls; nothing where no film was looked over."""
    balls = list(balls)
    if all(ball.seen is None for ball in balls):
        return ()
    kinds: dict[tuple[str, int], list[Ball]] = {}
    for ball in balls:
        kinds.setdefault((ball.kind, ball.launcher), []).append(ball)
    return tuple(_one(*key, of_kind) for key, of_kind in kinds.items())


def _one(kind: str, launcher: int, balls: Sequence[Ball]) -> Landed:
    whys = [ball.seen.why if ball.seen is not None else "not-looked-for" for ball in balls]
    refused = sum(bool(ball.seen and ball.seen.refused) for ball in balls)
    kept = [(place, ball.seen) for ball in balls if ball.seen and (place := _place(ball))]
    return Landed(
        kind,
        launcher,
        len(balls),
        tuple(place for place, _seen in kept),
        dict(Counter(why for why in whys if why and why != "said-no")),
        refused,
        _bias(kept),
    )


def _place(ball: Ball) -> Place | None:
    seen = ball.seen
    if seen is None or seen.refused or ball.target_m is None:
        return None
    if seen.landing_m is None or seen.spread_m2 is None:
        return None
    return Place(
        ball.number, ball.target_m, seen.landing_m, *region_95(_matrix(seen.spread_m2).tolist())
    )


def _matrix(spread: Spread | None) -> Floats:
    xx, xy, yy = spread or (0.0, 0.0, 0.0)
    return np.array([[xx, xy], [xy, yy]])


def _bias(balls: Sequence[tuple[Place, LandingSeen]]) -> Bias | None:
    count = len(balls)
    if count < LEAST_BALLS:
        return None
    off = np.array([np.subtract(place.landing_m, place.asked_m) for place, _seen in balls])
    spread = np.cov(off.T)
    camera = np.mean([_matrix(seen.camera_spread_m2) for _place, seen in balls], axis=0)
    whole = np.mean([_matrix(seen.spread_m2) for _place, seen in balls], axis=0)
    own = _no_less_than_none(whole - camera)
    mean = off.mean(0)
    region = _hotelling(count) * spread / count + WITHIN_95 * camera
    scatter = np.sqrt(np.diag(_no_less_than_none(spread - own)))
    half_axes, turn_deg = region_95(region.tolist(), 1.0)
    far = float(mean @ np.linalg.solve(region + 1e-12 * np.eye(2), mean))
    return Bias(_pair(mean), half_axes, turn_deg, _pair(scatter), far > 1.0)


def _pair(values: Floats) -> Pair:
    x, y = values.tolist()
    return x, y


def _no_less_than_none(spread: Floats) -> Floats:
    """The nearest spread that can be: none in a direction where it came out negative."""
    values, turns = np.linalg.eigh(spread)
    return np.asarray(turns @ np.diag(np.maximum(values, 0.0)) @ turns.T)


def _hotelling(count: int) -> float:
    """The square within which 95 of 100 means of so many lie, in spreads of the mean.

    2 (n - 1) / (n - 2) times the quantile of F(2, n - 2), which has a closed form, as the chance
    to go past f is (1 + 2 f / m)^(-m / 2) with m freedoms below.
    """
    freedoms = count - 2
    quantile = freedoms / 2 * (0.05 ** (-2 / freedoms) - 1)
    return float(2 * (count - 1) / freedoms * quantile)
