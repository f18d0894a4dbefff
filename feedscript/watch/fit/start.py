"""Where to begin: flights drawn as they may be, held against all that was seen."""

from __future__ import annotations

import numpy as np

from feedscript.flight.models import Array
from feedscript.watch.fit.solve import FEW_ROUNDS, Points, solve
from feedscript.watch.fit.view import View
from feedscript.watch.seek.gather import Gathered
from feedscript.watch.seek.paths import AFTER_S, Paths

_DRAWN, _STARTS = 700, 3
#: So many bounces are tried for a flight up to it, and as many again round the best of them, ever
#: closer, in shares of what is left open.
_BOUNCES, _CLOSER = 200, (1.0, 0.4, 0.15)
#: What is seen so close before a bounce may be after it: the flight is not known better yet.
_MARGIN_S = 0.03
#: A flight is told from its leaving to some time after its bounce, and its points are taken from
#: so much inside of both: one that it need only leave earlier or bounce later to reach would draw
#: these to itself.
_ROOM_S = 0.02
#: A blob this far off counts for little, for a picture 1280 wide.
_NEAR_PX = 9.0
#: Starts differ by this many standard deviations in something that makes the flight.
_APART = 0.5


def starts(view: View, gathered: Gathered) -> list[Array]:
    """The drawn flights along which most is seen, best first, unlike each other; (22,) each."""
    drawn = _drawn(view)
    scores = _scores(view, gathered, drawn)
    found: list[Array] = []
    for one in np.argsort(-scores)[:60]:
        if all(np.abs(drawn[one] - other)[:6].max() > _APART for other in found):
            found.append(drawn[one])
        if len(found) == _STARTS:
            break
    return found


def most_seen(view: View, gathered: Gathered, later_s: Array) -> Array:
    """Of how many pictures the best of the drawn flights has something near it, if all of them left
    so much later, (n,)."""
    drawn = _drawn(view)
    ways, times_s = view.paths(drawn), when(view, gathered)
    return np.array(
        [_along(view, gathered, ways, drawn, times_s - one_s).max() for one_s in later_s]
    )


def _drawn(view: View) -> Array:
    drawn = np.random.default_rng((view.expected.number, 1)).standard_normal((_DRAWN, view.size))
    drawn[0], drawn[:, -2:] = 0.0, 0.0
    return drawn


def _scores(view: View, gathered: Gathered, drawn: Array) -> Array:
    return _along(view, gathered, view.paths(drawn), drawn, when(view, gathered))


def _along(view: View, gathered: Gathered, ways: Paths, drawn: Array, times_s: Array) -> Array:
    frames = [at for at, each in enumerate(gathered.blobs) if len(each)]
    near_px = _NEAR_PX * view.camera.width_px / 1280
    px = view.px_along(ways, drawn, times_s[frames])
    scores = np.zeros(len(drawn))
    for index, frame in enumerate(frames):
        off = px[:, index, None] - gathered.blobs[frame].middle_px
        square = (off**2).sum(-1).min(1) / near_px**2
        scores += np.exp(-np.nan_to_num(square, nan=np.inf))
    return scores


def bounced_anew(
    view: View, gathered: Gathered, flight: Array, points: Points, sd_px: float
) -> Array:
    """The flight along which most is seen of those that fit its way down as well: of what comes
    after the bounce more is seen, and the way to there may have been fitted alone, or to a bounce
    that was none.

    ``points``: those that it was fitted to, each known to ``sd_px``.
    """
    down_s = float(view.down_s(flight)[0])
    best = solve(view, flight, points.some(points.times_s < down_s - _MARGIN_S), sd_px, FEW_ROUNDS)
    open_to = np.linalg.cholesky(np.linalg.inv(best.pull))
    random = np.random.default_rng((view.expected.number, 2))
    found = best.flight
    for closer in _CLOSER:
        drawn = random.standard_normal((_BOUNCES, view.size)) @ open_to.T
        drawn = found + closer * drawn
        drawn[0] = found
        found = drawn[_scores(view, gathered, drawn).argmax()]
    return np.asarray(found)


def when(view: View, gathered: Gathered) -> Array:
    """The times at which the rows were exposed where the ball should be, (n,)."""
    times = gathered.times_s
    if not view.camera.row_time_s:
        return times
    middle_s = times + view.camera.row_time_s * view.camera.height_px / 2
    row = view.px(np.zeros(view.size), middle_s)[0, :, 1]
    row = np.where(np.isfinite(row), row, view.camera.height_px / 2)
    return np.asarray(times + view.camera.row_time_s * row)


def points_near(
    view: View, gathered: Gathered, flight: Array, gate_px: float, late_s: float = 0.0
) -> Points:
    """In each picture the blob nearest to the flight, where one is within the gate.

    ``late_s``: how long after its picture's time a streak has its middle.
    """
    shown_s = when(view, gathered) + late_s
    expected_px = view.px(flight, shown_s)[0]
    ends_s = float(view.down_s(flight)[0]) + AFTER_S - _ROOM_S
    expected_px[(shown_s < view.at(flight, "left_s") + _ROOM_S) | (shown_s > ends_s)] = np.nan
    times, px, half_px, width_px = [], [], [], []
    for time_s, at, blobs in zip(gathered.times_s, expected_px, gathered.blobs, strict=True):
        if not len(blobs) or not np.isfinite(at).all():
            continue
        off = np.hypot(*(blobs.middle_px - at).T)
        one = int(off.argmin())
        if off[one] < gate_px:
            place = blobs.middle_px[one]
            times.append(time_s + late_s + view.camera.row_time_s * place[1])
            px.append(place)
            half_px.append(blobs.streak_px[one])
            width_px.append(blobs.width_px[one])
    middles, halves = (np.array(each).reshape(-1, 2) for each in (px, half_px))
    return Points(np.array(times), middles, halves, np.array(width_px))
