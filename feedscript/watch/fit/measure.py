"""One feed's ball from all that may be it: the flight, the landing, and how sure they are."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.models import Array, Mask
from feedscript.watch.camera.geometry import slopes as camera_slopes
from feedscript.watch.fit.measured import Measured, NotSeen, Value, Why
from feedscript.watch.fit.shutter import Open, open_time
from feedscript.watch.fit.solve import FEW_ROUNDS, ROUNDS, Fitted, Points, scale_px, solve
from feedscript.watch.fit.start import bounced_anew, points_near, starts, when
from feedscript.watch.fit.view import View
from feedscript.watch.seek.expected import AT, UNKNOWNS
from feedscript.watch.seek.gather import Gathered

#: Gates within which blobs are taken, ever closer, for a picture 1280 wide. The last is narrow: a
#: player's edge some pixels beside the ball's way counts for little, but where a bounce is hidden
#: nothing else speaks against it.
_GATES_PX = (14.0, 7.0, 4.0, 2.0, 1.0)
#: No place is taken to be known better than this in one picture, turn by turn, for a picture 1280
#: wide: a flight that already fits its beginning to a tenth of a pixel would take what it does not
#: fit yet, after the bounce, for something else's.
_LEAST_SD_PX = (3.0, 1.0, 0.4, 0.15, 0.04)
#: In the first turns the bounce is tried anew.
_ANEW = 2
#: A ball must be seen in so many pictures, so many before and after its bounce, and in this share
#: of those that should show it between its first and its last.
_LEAST_SEEN, _LEAST_BEFORE, _LEAST_AFTER, _LEAST_SHARE = 10, 6, 4, 0.5
#: One that is seen in the last picture before its bounce, and in so many from the fourth before it
#: on, need be seen in no more after it.
_LAST = 4
#: A ball is found to a part of a pixel and is as wide as it should be; edges and specks of the
#: ground that follow each other by chance are thin and scatter by pixels (for a picture 1280 wide).
#: In rendered films balls scatter by 0.1 px and are at least 0.9 of their width.
_MOST_SCATTER_PX, _LEAST_WIDE = 1.5, 0.5
#: How unlike the feed a flight may be: the square of standard deviations, over all unknowns.
#: It is passed by one in a thousand by chance (chi squared with 22 degrees of freedom: 48.3).
_MOST_UNLIKE = 48.3
#: The same for any one unknown.
_MOST_ASTRAY = 4.0
#: A longer half axis of the 95 % region than this is not known well enough, metres.
_MOST_HALF_M = 0.5
_WITHIN_95 = 5.991
#: Another flight that fits nearly as well, and lands so much elsewhere, makes both unsure.
_RIVAL_COST, _RIVAL_M = 12.0, 0.15
#: Flights on their way to landings this close come to the same.
_SAME_M = 0.1


class _Candidate(msgspec.Struct, frozen=True, eq=False):
    """One way to see it."""

    fitted: Fitted
    points: Points
    sd_px: float
    landing_m: Array  # (2,)
    shutter: Open
    merit: float  # the better the higher


def measure(gathered: Gathered, tick_s: float = 0.0) -> Measured | NotSeen:
    """The ball of one feed, or why it is not measured.

    ``tick_s``: to what the file rounds the times of its pictures.
    """
    number = gathered.expected.number
    view = View(gathered.expected, gathered.camera)
    why = _nothing(view, gathered)
    if why is not None:
        return NotSeen(number=number, why=why)
    found: list[_Candidate] = []
    for start in starts(view, gathered):
        if one := _tried(view, gathered, start, found):
            found.append(one)
    if not found:
        return NotSeen(number=number, why=Why.TOO_FEW)
    found.sort(key=lambda one: -one.merit)
    best = found[0]
    why = _doubt(view, gathered, best) or _rival(found)
    if why is not None:
        return NotSeen(number=number, why=why)
    return _judged(view, gathered, best, tick_s)


def _nothing(view: View, gathered: Gathered) -> Why | None:
    """Why there is nothing to begin with."""
    if not len(gathered.times_s):
        return Why.NO_PICTURES
    if not gathered.lines_there:
        return Why.CAMERA_MOVED
    times = np.arange(0, 1.5, 0.05) + view.expected.left_s
    px = view.px(np.zeros(view.size), times)[0]
    if not _inside(view, px).any():
        return Why.NOT_IN_VIEW
    seen = sum(len(each) > 0 for each in gathered.blobs)
    return None if seen >= _LEAST_SEEN else Why.NOTHING_SEEN


def _inside(view: View, px: Array) -> Mask:
    """Whether pixels, (..., 2), are in the picture."""
    size = (view.camera.width_px, view.camera.height_px)
    return np.asarray(((px > 0) & (px < size)).all(-1), bool)


def _tried(
    view: View, gathered: Gathered, start: Array, found: list[_Candidate]
) -> _Candidate | None:
    """The flight from one start, its points taken anew as it comes closer; None where too few are
    near it, and where it comes to what was found already."""
    scale = view.camera.width_px / 1280
    flight, sd_px, shutter = start, 3.0 * scale, Open()
    for turn, (gate_px, least_px) in enumerate(zip(_GATES_PX, _LEAST_SD_PX, strict=True)):
        sd_px = max(sd_px, least_px * scale)
        late_s = shutter.seconds / 2
        points = points_near(view, gathered, flight, max(gate_px * scale, 4 * sd_px), late_s)
        if len(points) < _LEAST_SEEN:
            return None
        last = turn == len(_GATES_PX) - 1
        fitted = solve(view, flight, points, sd_px, ROUNDS if last else FEW_ROUNDS)
        flight = fitted.flight
        sd_px = float(np.clip(scale_px(fitted), _LEAST_SD_PX[-1] * scale, 3.0 * scale))
        if turn == 1 and any(_alike(view, flight, one) for one in found):
            return None
        if turn < _ANEW:
            flight = bounced_anew(view, gathered, flight, points, sd_px)
        if not last:
            shutter = open_time(view, flight, points)
    landing = view.paths(flight).landing_m[0]
    if not np.isfinite(landing).all():
        return None
    # Points against nothing seen there: each counts for what it tells a flight from chance.
    merit = 6.0 * len(points) - fitted.cost - 2 * len(points) * np.log(sd_px / scale)
    return _Candidate(fitted, points, sd_px, landing, shutter, float(merit))


def _alike(view: View, flight: Array, other: _Candidate) -> bool:
    off = view.paths(flight).landing_m[0] - other.landing_m
    return float(np.hypot(*off)) < _SAME_M


def _doubt(view: View, gathered: Gathered, best: _Candidate) -> Why | None:
    flight, points = best.fitted.flight, best.points
    bounce_s = float(view.down_s(flight)[0])
    fits = best.fitted.fits  # what is near it and does not may be another thing's
    before = int((fits & (points.times_s < bounce_s)).sum())
    down = _followed(best, bounce_s) or _seen_down(view, gathered, best, bounce_s)
    if before < _LEAST_BEFORE or not down:
        px = view.px(flight, np.array([bounce_s]))
        return Why.BOUNCE_UNSEEN if _inside(view, px).all() else Why.BOUNCE_OUTSIDE
    if fits.sum() < _LEAST_SHARE * _shown(view, gathered, best):
        return Why.TOO_FEW
    if not _like_a_ball(view, best):
        return Why.NO_BALL
    if float(flight @ flight) > _MOST_UNLIKE or np.abs(flight).max() > _MOST_ASTRAY:
        return Why.NOT_LIKELY
    return None


def _followed(best: _Candidate, bounce_s: float) -> bool:
    """Whether it was seen often enough after its bounce, and for as long as it was hidden there
    before: a glimpse carries a flight back no farther than that."""
    after = best.points.times_s[best.fitted.fits & (best.points.times_s >= bounce_s)]
    return len(after) >= _LEAST_AFTER and bool(after[0] - bounce_s <= after[-1] - after[0])


def _seen_down(view: View, gathered: Gathered, best: _Candidate, bounce_s: float) -> bool:
    """Whether it was seen in the very last picture before its bounce, and in enough of those round
    it: what is so low comes to the ground, whoever stands before it then."""
    times = when(view, gathered) + best.shutter.seconds / 2
    last = times[times < bounce_s][-_LAST:]
    if len(last) < _LAST:
        return False
    near_s = float(np.diff(last).min()) / 4
    seen = best.points.times_s[best.fitted.fits]
    very_last = np.abs(seen - last[-1]).min() < near_s
    return bool(very_last and (seen > last[0] - near_s).sum() >= _LAST)


def _like_a_ball(view: View, best: _Candidate) -> bool:
    """Whether what the flight goes by is as wide as the ball, and keeps to one way."""
    scatter_px = scale_px(best.fitted) * 1280 / view.camera.width_px
    fits = best.fitted.fits
    places = view.paths(best.fitted.flight).at(best.points.times_s[fits])[0]
    wide = best.points.width_px[fits] / (2 * view.radius_px(places))
    return scatter_px <= _MOST_SCATTER_PX and float(np.nanmedian(wide)) >= _LEAST_WIDE


def _rival(found: list[_Candidate]) -> Why | None:
    best = found[0]
    for other in found[1:]:
        apart_m = float(np.hypot(*(other.landing_m - best.landing_m)))
        if other.merit > best.merit - _RIVAL_COST and apart_m > _RIVAL_M:
            return Why.TWO_WAYS
    return None


def _shown(view: View, gathered: Gathered, best: _Candidate) -> int:
    """In how many pictures from its first to its last it should have been seen."""
    times = when(view, gathered) + best.shutter.seconds / 2
    first, last = best.points.times_s[[0, -1]]
    inside = _inside(view, view.px(best.fitted.flight, times)[0])
    return int((inside & (times >= first - 1e-3) & (times <= last + 1e-3)).sum())


def _judged(view: View, gathered: Gathered, best: _Candidate, tick_s: float) -> Measured | NotSeen:
    """With its uncertainties: the points', the camera's, and that of the film's own times."""
    fitted, number = best.fitted, view.expected.number
    spread = flight_spread(view, fitted, best.points.times_s)
    nudged = view.nudged(fitted.flight)
    ways = view.paths(nudged)
    step = nudged[1, 0] - nudged[0, 0]
    by_landing = (ways.landing_m[1:] - ways.landing_m[0]).T / step
    landing = by_landing @ spread @ by_landing.T
    half_m = np.sqrt(_WITHIN_95 * np.linalg.eigvalsh(landing)[-1])
    if not half_m <= _MOST_HALF_M:
        return NotSeen(number=number, why=Why.NOT_SURE)
    downs = ways.left_s + ways.flight_s
    by_bounce = (downs[1:] - downs[0]) / step
    by_flight = (ways.flight_s[1:] - ways.flight_s[0]) / step
    x, y = (float(one) for one in ways.landing_m[0])
    sds = view.spread * np.sqrt(np.diag(spread))
    # Rounded by up to half a tick, or cut off by a whole one: its spread if all are alike.
    times_sd = float(np.hypot(best.shutter.sd / 2, tick_s / np.sqrt(12)))
    sds[AT["left_s"]] = np.hypot(sds[AT["left_s"]], times_sd)
    bounce_sd = float(np.hypot(np.sqrt(by_bounce @ spread @ by_bounce), times_sd))
    values = view.values(fitted.flight)
    told = {
        name: Value(float(values[AT[name]]), float(sds[AT[name]]))
        for name in (*UNKNOWNS[:5], "left_s")
    }
    return Measured(
        number=number,
        landing_m=(x, y),
        covariance_m2=(
            (float(landing[0, 0]), float(landing[0, 1])),
            (float(landing[1, 0]), float(landing[1, 1])),
        ),
        bounce_s=Value(float(downs[0]), bounce_sd),
        flight_s=_told(float(ways.flight_s[0]), by_flight, spread),
        seen=int(fitted.fits.sum()),
        shown=_shown(view, gathered, best),
        scatter_px=scale_px(fitted),
        unknowns=values[: len(UNKNOWNS)],
        **told,
    )


def _told(value: float, slopes: Array, spread: Array) -> Value:
    return Value(value, float(np.sqrt(slopes @ spread @ slopes)))


def flight_spread(view: View, fitted: Fitted, times_s: Array) -> Array:
    """The covariance of the flight, (22, 22), to first order; ``times_s`` of its points, (m,).

    The points' share is made wider where what is left of them hangs together from picture to
    picture (as by n (1 - r) / (1 + r) values that do not: a first-order autoregression), and the
    camera's is how the fit follows when the camera is changed and the points are not.
    """
    inverse = np.linalg.inv(fitted.pull)
    together = _together(fitted)
    loose = np.eye(view.size) + (fitted.pull - np.eye(view.size)) * together
    spread = inverse @ loose @ inverse
    uncertain = view.camera.uncertainty
    if uncertain.any():
        places = view.paths(fitted.flight).at(times_s)[0]
        shown = np.isfinite(places).all(-1) & (fitted.weights > 0)
        by_camera = camera_slopes(view.camera, places[shown]).by_camera
        pulled = np.einsum("m,mij,mik->jk", fitted.weights[shown], fitted.slopes[shown], by_camera)
        follows = inverse @ pulled
        spread = spread + follows @ uncertain @ follows.T
    return np.asarray(spread)


def _together(fitted: Fitted) -> float:
    """By how much wider the covariance is than if each picture erred by itself; at least 1."""
    left = fitted.left_px[fitted.weights > 0]
    total = float((left**2).sum())
    if len(left) < 8 or total <= 0:
        return 1.0
    like = float(np.clip((left[1:] * left[:-1]).sum() / total, 0.0, 0.8))
    return (1 + like) / (1 - like)
