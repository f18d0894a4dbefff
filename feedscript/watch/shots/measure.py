"""One shot from all that may be it: its way back, and how it ended."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.court.net import Net
from feedscript.flight.models import Array, Mask
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measure import flight_spread
from feedscript.watch.fit.measured import Measured, NotSeen, Value
from feedscript.watch.fit.solve import FEW_ROUNDS, ROUNDS, Fitted, Points, scale_px, solve
from feedscript.watch.fit.start import bounced_anew, points_near
from feedscript.watch.fit.view import View
from feedscript.watch.seek.expected import AT
from feedscript.watch.seek.gather import Gathered
from feedscript.watch.shots.contact import seen_from_contact
from feedscript.watch.shots.followed import followed
from feedscript.watch.shots.gather import Back
from feedscript.watch.shots.ground import Ground, odds
from feedscript.watch.shots.prior import SPEED_MPS, Struck, as_expected, freed, stiff, way_of
from feedscript.watch.shots.seen import NoShot, Shot, WhyNot
from feedscript.watch.shots.start import starts

#: Turns: blobs are taken within this gate (for a picture 1280 wide); so many steps; and whether the
#: flight is known well enough to say that the net stops it.
_ROUGH = ((16.0, FEW_ROUNDS, False), (9.0, FEW_ROUNDS, False))
_FINE = ((9.0, FEW_ROUNDS, True), (6.0, FEW_ROUNDS, True), (5.0, ROUNDS, True))
_FOLLOWED = 3
#: Ways are the same that differ by less: m/s and degrees, and seconds.
_SAME, _SAME_S = 0.7, 0.03
_LEAST_SD_PX, _MOST_SD_PX = 0.2, 3.0
#: What scatters more about a flight is none, as with fed balls: things that follow each other by
#: chance. Balls in rendered films scatter by 0.1 to 0.3 px.
_MOST_SCATTER_PX = 1.5
#: A shot is seen in so many pictures, and in this share of those that should show it.
_LEAST_SEEN, _LEAST_SHARE = 10, 0.45
#: The square of standard deviations from the start that was found, over all unknowns.
_MOST_UNLIKE = 60.0
_DRAWN = 300
#: A way that fits nearly as well and ends otherwise makes both unsure.
_RIVAL_MERIT = 12.0
_STEP_S, _MOST_S = 0.01, 1.9


class _Candidate(msgspec.Struct, frozen=True, eq=False):
    """One way to see it; ``view`` is its own start's."""

    view: View
    fitted: Fitted
    points: Points
    sd_px: float
    merit: float  # the better the higher

    @classmethod
    def at_rest(cls, view: View) -> _Candidate:
        """Just as it was found."""
        none = np.empty((0, 2))
        size = view.size
        slopes, fits = np.empty((0, 2, size)), np.empty(0, np.bool_)
        fitted = Fitted(np.zeros(size), none, slopes, np.empty(0), fits, 0.0)
        sd_px = _MOST_SD_PX * view.camera.width_px / 1280
        return cls(view, fitted, Points(np.empty(0), none, none, np.empty(0)), sd_px, 0.0)


def measure_shot(
    camera: Camera, fed: Measured | NotSeen, back: Back, ground: Ground
) -> Shot | NoShot:
    """What became of the shot at this fed ball, or why that is not said."""
    number = back.expected.number
    if isinstance(fed, NotSeen):  # what is seen may be that ball itself, let go
        return NoShot(number=number, why=WhyNot.FEED_UNSEEN)
    way = way_of(back.expected, fed.unknowns)
    if not len(back.times_s) or back.times_s[-1] < way.times_s[0] + 0.5:
        return NoShot(number=number, why=WhyNot.NO_PICTURES)
    on = followed(camera, way, back)
    if on.let_go:
        return NoShot(number=number, why=WhyNot.LET_GO)
    way, back = way.after(on.surely_s), on.rest
    begun = starts(camera, way, back)
    if not begun:
        return NoShot(number=number, why=WhyNot.NO_SHOT)
    found = _candidates(camera, back, begun, ground.court.net)
    if not found:
        return NoShot(number=number, why=WhyNot.TOO_FEW)
    best = found[0]
    flight = best.fitted.flight
    speed_mps, met_s = (best.view.at(flight, name) for name in ("speed_mps", "left_s"))
    hit = SPEED_MPS[0] < speed_mps < SPEED_MPS[1]  # slower ones roll off the strings, or a fence
    smooth = scale_px(best.fitted) * 1280 / camera.width_px <= _MOST_SCATTER_PX
    likely = hit and smooth and float(flight @ flight) <= _MOST_UNLIKE
    if not likely or not _seen_throughout(best, back):
        return NoShot(number=number, why=WhyNot.NOT_LIKELY)
    if not seen_from_contact(met_s, best.points, back.times_s):
        return NoShot(number=number, why=WhyNot.CONTACT_UNSEEN)
    shot = _judged(number, best, ground)
    rivals = [one for one in found[1:] if one.merit > best.merit - _RIVAL_MERIT]
    if any(_judged(number, one, ground).likeliest is not shot.likeliest for one in rivals):
        return NoShot(number=number, why=WhyNot.TWO_WAYS)
    return shot


def _candidates(camera: Camera, back: Back, begun: list[Struck], net: Net) -> list[_Candidate]:
    """Every start followed a little, and the few best of them, unlike each other, to the end."""
    rough: list[_Candidate] = []
    for struck in begun:
        view = View(stiff(as_expected(back.expected, struck)), camera)
        start = _Candidate.at_rest(view)
        one = _closer(start, back, net, _ROUGH)
        if one is not None and not any(_alike(one, other) for other in rough):
            rough.append(one)
    rough.sort(key=lambda one: -one.merit)
    free = (_freed(one, back) for one in rough[:_FOLLOWED])
    fine = (_closer(one, back, net, _FINE) for one in free)
    return sorted((one for one in fine if one is not None), key=lambda one: -one.merit)


def _freed(one: _Candidate, back: Back) -> _Candidate:
    """The same way back, with air and ball free to be others than usual, and with the bounce after
    which most is seen."""
    view = View(freed(one.view.expected), one.view.camera)
    flight = (one.view.values(one.fitted.flight) - view.middle) / view.spread
    gathered = Gathered(view.expected, view.camera, back.times_s, back.blobs)
    flight = bounced_anew(view, gathered, flight, one.points, one.sd_px)
    fitted = msgspec.structs.replace(one.fitted, flight=flight)
    return msgspec.structs.replace(one, view=view, fitted=fitted)


def _alike(one: _Candidate, other: _Candidate) -> bool:
    """Whether two starts came to the same way back."""
    launch = slice(0, 3)
    apart = one.view.values(one.fitted.flight) - other.view.values(other.fitted.flight)
    return bool(np.abs(apart[launch]).max() < _SAME and abs(apart[AT["left_s"]]) < _SAME_S)


def _closer(
    one: _Candidate, back: Back, net: Net, turns: tuple[tuple[float, int, bool], ...]
) -> _Candidate | None:
    """The flight with its points taken anew as it comes closer; None where too few are near it."""
    view, flight, scale = one.view, one.fitted.flight, one.view.camera.width_px / 1280
    gathered = Gathered(view.expected, view.camera, back.times_s, back.blobs)
    sd_px = one.sd_px
    for gate_px, rounds, stops in turns:
        points = points_near(view, gathered, flight, max(gate_px * scale, 4 * sd_px))
        if stops:
            points = _until(points, _stopped_s(view, flight, net))
        if len(points) < _LEAST_SEEN:
            return None
        fitted = solve(view, flight, points, sd_px, rounds)
        flight = fitted.flight
        sd_px = float(np.clip(scale_px(fitted), _LEAST_SD_PX * scale, _MOST_SD_PX * scale))
    merit = 6.0 * len(points) - fitted.cost - 2 * len(points) * np.log(sd_px / scale)
    return _Candidate(view, fitted, points, sd_px, float(merit))


def _until(points: Points, until_s: float) -> Points:
    return points.some(points.times_s < until_s)


def _stopped_s(view: View, flight: Array, net: Net) -> float:
    """When the net stops it; never, where it passes, or comes down before."""
    passing = _passing(view, flight[None], net)
    stopped = np.isfinite(passing.at_s[0]) and not passing.clear[0]
    return float(passing.at_s[0]) if stopped else np.inf


class _Passing(msgspec.Struct, frozen=True, eq=False):
    """Of n flights when they come to the net (NaN: they do not), and whether they pass it."""

    at_s: Array
    clear: Mask


def _passing(view: View, flights: Array, net: Net) -> _Passing:
    radius_m = view.expected.conditions.ball.radius_m
    begun_s = view.values(np.atleast_2d(flights))[:, AT["left_s"]]
    since = np.arange(0.0, _MOST_S, _STEP_S)
    times = begun_s[:, None] + since
    places = view.paths(flights).at(times)
    beyond = places[..., 1] <= 0
    came = beyond.any(1)
    first = np.maximum(beyond.argmax(1), 1)
    rows = np.arange(len(first))
    before, after = places[rows, first - 1], places[rows, first]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = before[:, 1] / (before[:, 1] - after[:, 1])
    there = before + share[:, None] * (after - before)
    low: Mask = there[:, 2] - radius_m < net.heights_m(there[:, 0])
    stopped = low & (np.abs(there[:, 0]) < net.support_x_m)
    at_s = np.where(came, times[rows, first - 1] + share * _STEP_S, np.nan)
    down = view.paths(flights)
    bounced = down.left_s + down.flight_s < at_s  # on this side of the net
    return _Passing(at_s, came & ~stopped & ~bounced)


def _seen_throughout(best: _Candidate, back: Back) -> bool:
    """In enough of the pictures between its first and its last."""
    first, last = best.points.times_s[[0, -1]]
    camera = best.view.camera
    inside = (back.times_s >= first - 0.02) & (back.times_s <= last + 1e-3)
    px = best.view.px(best.fitted.flight, back.times_s[inside])[0]
    size = (camera.width_px, camera.height_px)
    shown = int(((px > 0) & (px < size)).all(-1).sum())
    return len(best.points) >= _LEAST_SHARE * shown


def _judged(number: int, best: _Candidate, ground: Ground) -> Shot:
    view, fitted = best.view, best.fitted
    spread = flight_spread(view, fitted, best.points.times_s)
    random = np.random.default_rng((number, 3))
    drawn = random.multivariate_normal(fitted.flight, spread, _DRAWN, method="eigh")
    drawn[0] = fitted.flight
    places = _landings(view, fitted.flight, drawn)
    places[~_passing(view, drawn, ground.court.net).clear] = np.nan
    values, sds = view.values(fitted.flight), view.spread * np.sqrt(np.diag(spread))
    x, y, z = (float(values[AT[name]]) for name in ("x_m", "y_m", "z_m"))
    landing, covariance = _landing(places)
    return Shot(
        number=number,
        struck_s=float(values[AT["left_s"]]),
        struck_m=(x, y, z),
        speed_mps=Value(float(values[AT["speed_mps"]]), float(sds[AT["speed_mps"]])),
        odds=odds(places, ground, view.expected.conditions.ball.radius_m),
        landing_m=landing,
        covariance_m2=covariance,
        pictures=len(best.points),
    )


def _landings(view: View, flight: Array, drawn: Array) -> Array:
    """Where flights drawn about this one come down, (n, 2), to first order as they were drawn:
    flown whole they would leave the way that was seen, along which their unknowns go by curves."""
    nudged = view.nudged(flight)
    places = view.paths(nudged).landing_m
    slopes = (places[1:] - places[0]) / (nudged[1, 0] - nudged[0, 0])
    return np.asarray(places[0] + (drawn - flight) @ slopes)


def _landing(
    places: Array,
) -> tuple[tuple[float, float] | None, tuple[tuple[float, float], tuple[float, float]] | None]:
    """Where most of these came down beyond the net, and how far they scatter about that."""
    there = places[np.isfinite(places).all(1) & (places[:, 1] < 0)]
    if 2 * len(there) < len(places):
        return None, None
    (x, y), (a, b) = there.mean(0).tolist(), np.cov(there.T).tolist()
    return (x, y), ((a[0], a[1]), (b[0], b[1]))
