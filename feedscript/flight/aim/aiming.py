"""Aiming: which way to throw so that a ball of this speed and spin lands there.

Most targets are reached by a few secant steps from a good first guess. What does not settle that
way on the wished arc is looked at along the whole curve of distance over elevation: its summit
divides the low arc from the high one, and between a throw too short and a throw too long there is
a solution that a bracketed search cannot lose. Where both ends are short, or both long, the target
is out of reach; then the nearest throw is given, with its miss and the speed that would do.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.aim.range_curve import GoOn, RangeCurve
from feedscript.flight.aim.reach import speed_needed
from feedscript.flight.aim.sensitivity import Sensitivity, flown_with_sensitivity, sensitivity
from feedscript.flight.aim.targets import Targets
from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion.flights import (
    DEFAULT_CONDITIONS,
    Conditions,
    Flights,
    Launches,
    fly,
)

__all__ = ["ELEVATIONS_DEG", "RESIDUAL_M", "Aims", "Targets", "aim", "aims_at"]

ELEVATIONS_DEG = (-15.0, 75.0)
#: A solution is a throw that lands this close to what was asked.
RESIDUAL_M = 2e-4
_CLOSE_M = 2e-5
_ONE_STRIDE_M = 5e-4
_QUICK_ROUNDS = 8
_SURE_ROUNDS = 60
_LONGEST_STRIDE_DEG = 8.0
#: How far apart the first three throws are. Design value: a first guess is mostly as near.
_APART_DEG = 0.75
_THREE = np.array([[-1.0], [0.0], [1.0]])


class Aims(msgspec.Struct, frozen=True, eq=False):
    """How to throw, and what then happens; arrays of the targets' length.

    Where a target is out of reach, elevation and azimuth are those of the throw that comes
    nearest. ``miss_m`` says by how much: positive for a throw that falls short, negative for one
    that flies past, zero in reach. ``speed_needed_mps`` is the nearest speed that would reach it
    with everything else as wished; NaN if none between 3 and 70 m/s does.
    """

    elevation_deg: Array
    azimuth_deg: Array
    residual_m: Array
    reachable: Mask
    miss_m: Array
    speed_needed_mps: Array
    launches: Launches
    flights: Flights
    sensitivity: Sensitivity


def aim(
    targets: Targets,
    conditions: Conditions = DEFAULT_CONDITIONS,
    *,
    elevations_deg: tuple[float, float] = ELEVATIONS_DEG,
    by_wheels: bool = True,
    seek_speed: bool = True,
    go_on: GoOn | None = None,
) -> Aims:
    """Solve elevation and azimuth for every target at once.

    ``elevations_deg`` bounds the search: what the launcher can tilt to. ``by_wheels`` removes the
    part of the wished spin that lies along the throw, which no pair of wheels can give. Without
    ``seek_speed`` the speed that would do is not looked for (NaN), which costs more than all else.
    ``go_on`` is asked before every batch of throws, and raises where the aim is given up.
    """
    curve = RangeCurve(targets, conditions, elevations_deg, by_wheels, go_on)
    elevation, azimuth, settled = _quickly(curve)
    curve.look_on()
    launches = targets.launches(elevation, azimuth, by_wheels=by_wheels)
    flights, moves = flown_with_sensitivity(launches, conditions, by_wheels=by_wheels)
    miss = np.zeros(len(targets))
    rest = np.flatnonzero(~(settled & (_residual(targets, flights) <= RESIDUAL_M)))
    if rest.size:
        elevation[rest], azimuth[rest], miss[rest] = _surely(curve.of(rest))
        curve.look_on()
        launches = targets.launches(elevation, azimuth, by_wheels=by_wheels)
        flights = flights.with_some(rest, fly(launches.some(rest), conditions))
        curve.look_on()
        moves = sensitivity(launches, conditions, flights, by_wheels=by_wheels)
    found = _aims(targets, launches, flights, moves)
    out = np.flatnonzero(~found.reachable)
    if out.size:
        needed = speed_needed(curve.of(out), miss[out]) if seek_speed else np.nan
        found.speed_needed_mps[out] = needed
        found.miss_m[out] = miss[out]
    return found


def aims_at(
    targets: Targets, elevation: Array, azimuth: Array, conditions: Conditions, *, by_wheels: bool
) -> Aims:
    """The aims these angles are, with the flights and sensitivities that follow."""
    launches = targets.launches(elevation, azimuth, by_wheels=by_wheels)
    flights, moves = flown_with_sensitivity(launches, conditions, by_wheels=by_wheels)
    return _aims(targets, launches, flights, moves)


def _residual(targets: Targets, flights: Flights) -> Array:
    """How far from its target each ball lands; endless for one that does not come down."""
    gap = np.hypot(flights.landing_x_m - targets.x_m, flights.landing_y_m - targets.y_m)
    return np.nan_to_num(gap, nan=np.inf)


def _aims(targets: Targets, launches: Launches, flights: Flights, moves: Sensitivity) -> Aims:
    residual = _residual(targets, flights)
    return Aims(
        elevation_deg=launches.elevation_deg,
        azimuth_deg=launches.azimuth_deg,
        residual_m=residual,
        reachable=residual <= RESIDUAL_M,
        miss_m=np.zeros(len(targets)),
        speed_needed_mps=targets.speed_mps.copy(),
        launches=launches,
        flights=flights,
        sensitivity=moves,
    )


def _quickly(curve: RangeCurve) -> tuple[Array, Array, Mask]:
    """Elevation, azimuth and whether they are right: by a parabola from a first guess, then by
    secant steps."""
    low, high = curve.elevations_deg
    angle, turn, slope = _parabola(curve)
    elevation, azimuth = angle.copy(), turn.copy()
    settled = np.zeros(len(angle), dtype=bool)
    lanes = np.arange(len(angle))
    last_angle, last_past = np.full((2, len(angle)), np.nan)
    for _ in range(_QUICK_ROUNDS):
        here = curve.of(lanes)
        past, right = here.throw(angle, turn)
        turn = turn - right
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = (past - last_past) / (angle - last_angle)
            slope = np.where(np.isfinite(secant), secant, slope)
            stride = np.nan_to_num(-past / slope)
        on_arc = (slope > 0) != here.targets.high
        # One more stride from this close needs no throw of its own: the last flight checks it.
        done = (np.abs(past) < _ONE_STRIDE_M) & on_arc & np.isfinite(slope)
        if not curve.conditions.still:
            # A flight in still air turns with the launcher; in wind the turn must be thrown.
            done &= np.abs(np.radians(right)) * here.targets.distance_m < _CLOSE_M
        ahead = np.clip(
            angle + np.clip(stride, -_LONGEST_STRIDE_DEG, _LONGEST_STRIDE_DEG), low, high
        )
        elevation[lanes], azimuth[lanes], settled[lanes] = ahead, turn, done
        going = ~done & np.isfinite(past) & on_arc & (ahead != angle)
        last_angle, last_past = angle[going], past[going]
        lanes, angle, turn, slope = lanes[going], ahead[going], turn[going], slope[going]
        if not lanes.size:
            break
    return elevation, azimuth, settled


def _parabola(curve: RangeCurve) -> tuple[Array, Array, Array]:
    """Elevation, azimuth and slope (m/deg) where a parabola through three throws about a first
    guess meets each target."""
    low, high = curve.elevations_deg
    apart = min(_APART_DEG, (high - low) / 2)
    middle = np.clip(curve.guess(), low + apart, high - apart)
    bearing = curve.targets.bearing_deg
    past, right = curve.throws(middle + apart * _THREE, bearing)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (past[2] - past[0]) / (2 * apart)
        bend = (past[2] - 2 * past[1] + past[0]) / apart**2
        root = np.sqrt(slope**2 - 2 * bend * past[1])
        # The one of its two zeros that lies on this side of its summit.
        stride = -2 * past[1] / (slope + np.copysign(root, slope))
        stride = np.where(np.isfinite(stride), stride, np.nan_to_num(-past[1] / slope))
        swing = (right[2] - right[0]) / (2 * apart)
    stride = np.clip(stride, -_LONGEST_STRIDE_DEG, _LONGEST_STRIDE_DEG)
    turn = bearing - right[1] - np.nan_to_num(swing * stride)
    return np.clip(middle + stride, low, high), turn, slope + bend * stride


def _surely(curve: RangeCurve) -> tuple[Array, Array, Array]:
    """Elevation, azimuth and, out of reach, by how much the nearest throw is short (+)."""
    outer, inner, past_outer, past_inner = _bracket(curve)
    solvable = (past_outer < 0) != (past_inner < 0)
    nearer = np.where(np.abs(past_outer) <= np.abs(past_inner), outer, inner)
    lanes = np.flatnonzero(solvable)
    if lanes.size:
        nearer[lanes] = _close_in(curve, lanes, outer, inner, past_outer, past_inner)
    past, azimuth = curve.along(nearer)
    return nearer, azimuth, np.where(solvable, 0.0, -past)


def _bracket(curve: RangeCurve) -> tuple[Array, Array, Array, Array]:
    """Elevations about the solution on the wished arc, outer and inner, and their ``past``.

    The outer one lies away from the summit and falls short, if any looked-at throw on that side
    does; the inner one is the next towards the summit, or the summit itself.
    """
    angles, past = curve.grid()
    past = np.nan_to_num(past, nan=-np.inf)
    rows, lanes = len(past), np.arange(past.shape[1])
    top = np.argmax(past, axis=0)
    high = curve.targets.high
    index = np.arange(rows)[:, None]
    short = past < 0
    before = np.where(short & (index <= top), index, -1).max(axis=0)
    after = np.where(short & (index >= top), index, rows).min(axis=0)
    edge = np.where(high, after, before)
    none = (edge < 0) | (edge >= rows)  # nothing falls short: the end of the span is nearest
    edge = np.where(none, np.where(high, rows - 1, 0), edge)
    next_in = np.clip(np.where(high, edge - 1, edge + 1), 0, rows - 1)
    outer, past_outer = angles[edge, lanes], past[edge, lanes]
    inner, past_inner = angles[next_in, lanes].copy(), past[next_in, lanes].copy()
    to_summit = np.flatnonzero((past_inner < 0) | (edge == top))
    if to_summit.size:
        around = top[to_summit]
        left = angles[np.maximum(around - 1, 0), to_summit]
        right = angles[np.minimum(around + 1, rows - 1), to_summit]
        summit = curve.of(to_summit).summit(left, right)
        inner[to_summit], past_inner[to_summit] = summit
    inner = np.where(none, outer, inner)
    past_inner = np.where(none, past_outer, past_inner)
    return outer, inner, past_outer, past_inner


def _close_in(
    curve: RangeCurve, lanes: Lanes, low: Array, high: Array, past_low: Array, past_high: Array
) -> Array:
    """Between throws short and long: the Illinois form of regula falsi, with halvings."""
    result = low[lanes].copy()
    here = np.arange(len(lanes))
    a, b, fa, fb = (part[lanes].copy() for part in (low, high, past_low, past_high))
    for round_ in range(_SURE_ROUNDS):
        with np.errstate(invalid="ignore"):
            middle = b - fb * (b - a) / (fb - fa)
        halve = ~np.isfinite(middle) | (round_ % 5 == 4)
        middle = np.where(halve, (a + b) / 2, middle)
        value = curve.of(lanes[here]).along(middle)[0]
        value = np.nan_to_num(value, nan=-1e9)
        crossed = (value < 0) != (fb < 0)
        a, fa = np.where(crossed, b, a), np.where(crossed, fb, np.where(halve, fa, fa / 2))
        b, fb = middle, value
        result[here] = middle
        going = (np.abs(value) > _CLOSE_M) & (a != b)
        here, a, b, fa, fb = here[going], a[going], b[going], fa[going], fb[going]
        if not here.size:
            break
    return result
