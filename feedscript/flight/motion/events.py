"""Events of a flight: apex, and upright or level planes.

During the integration an event is only noted: from which point of which step, and about how much
later. Afterwards one step of the method of order 8 goes from that point to the event itself, and
a short step of order 4 takes what is left. So an event is as exact as the flight.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import NamedTuple

import msgspec
import numpy as np

from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion.equations_of_motion import EquationsOfMotion, short_step, step
from feedscript.flight.motion.hermite import quintic, root_between, slope_of

#: How far from an event one step of order 4 may go: (0.15 s)^5 / 120 of a ball's motion is 0.01 mm.
LEFT_TO_A_SHORT_STEP_S = 0.15
_TRIES = 8


class Moment(NamedTuple):
    """Where balls are: state (d, n) and its rate, place (3, n), time of flight (n)."""

    state: Array
    rate: Array
    place: Array
    time_s: Array

    def of(self, chosen: Lanes | slice) -> Moment:
        return Moment(
            self.state[:, chosen], self.rate[:, chosen], self.place[:, chosen], self.time_s[chosen]
        )


def unknown(balls: int, rows: int) -> Moment:
    """A record of so many balls with nothing in it yet."""
    state, rate, place = (np.full((size, balls), np.nan) for size in (rows, rows, 3))
    return Moment(state, rate, place, np.full(balls, np.nan))


def nowhere(like: Moment) -> Moment:
    """A record of the same shape with nothing in it."""
    return unknown(like.state.shape[1], like.state.shape[0])


class Plane(msgspec.Struct, frozen=True, dict=True):
    """All points with normal . place = offset (metres): one for all balls, or one for each.

    ``normal`` is of unit length, three numbers or (3, n); ``offset`` a number or (n).
    """

    normal: tuple[float, float, float] | Array
    offset: float | Array

    @cached_property
    def _normal(self) -> Array:
        """The normal as a column, or a column a ball."""
        return np.asarray(self.normal, dtype=float).reshape(3, -1)

    def _along(self, vectors: Array) -> Array:
        """How far vectors (3, n) go off the plane."""
        far: Array = np.add.reduce(self._normal * vectors, axis=0)
        return far

    def way(self, moment: Moment) -> Array:
        """Distance from the plane."""
        return self._along(moment.place) - self.offset

    def between(self, before: Array, after: Array) -> Mask:
        """Whether it is met between these ways from it."""
        met: Mask = (before < 0) != (after < 0)
        return met

    def measure(self, moment: Moment, wind: Array) -> tuple[Array, Array, Array]:
        """Distance from the plane and its first two rates in time."""
        velocity = moment.state[:3] + wind[:, None]
        return self.way(moment), self._along(velocity), self._along(moment.rate[:3])

    def of(self, chosen: Lanes) -> Plane:
        """The same for some of the balls."""
        normal, offset = np.asarray(self.normal), np.asarray(self.offset)
        if normal.ndim == 1 and offset.ndim == 0:
            return self
        wide = np.broadcast_to(normal.reshape(3, -1), (3, offset.size))
        chosen_offset = np.broadcast_to(offset, wide.shape[1:])[chosen]
        return Plane(wide[:, chosen], chosen_offset)


class Apex(msgspec.Struct, frozen=True):
    """Where the ball stops rising."""

    def way(self, moment: Moment) -> Array:
        """Climb."""
        climb: Array = moment.state[2]
        return climb

    def between(self, before: Array, after: Array) -> Mask:
        """Whether it is met between these climbs."""
        met: Mask = (before > 0) & (after <= 0)
        return met

    def measure(self, moment: Moment, _wind: Array) -> tuple[Array, Array, Array]:
        """Climb and its rate."""
        climb, rate = moment.state[2], moment.rate[2]
        return climb, rate, np.zeros_like(rate)

    def of(self, _chosen: Lanes) -> Apex:
        return self


class Met(NamedTuple):
    """Balls that meet an event within a step of so many seconds: which, from where, and where in
    the step a quintic (6, n) of it is zero."""

    lanes: Lanes
    start: Moment
    seconds: Array
    poly: Array


class Sightings:
    """What was noted of one kind of event for n balls, the first one of each ball."""

    def __init__(self, kind: Plane | Apex, balls: int, rows: int) -> None:
        self.kind = kind
        self.start = unknown(balls, rows)
        self.later_s = np.full(balls, np.nan)

    def met(self, lanes: Lanes, start: Moment, end: Moment, wind: Array) -> Met | None:
        """The balls that first meet the event between ``start`` and ``end``; None if none does."""
        kind = self.kind.of(lanes)
        met = kind.between(kind.way(start), kind.way(end)) & np.isnan(self.later_s[lanes])
        chosen = met.nonzero()[0]
        if not chosen.size:
            return None
        if chosen.size < met.size:
            lanes, kind = lanes[chosen], kind.of(chosen)
            start, end = start.of(chosen), end.of(chosen)
        seconds = end.time_s - start.time_s
        if isinstance(kind, Apex):
            poly = np.zeros((6, len(seconds)))
            poly[:-1] = slope_of(height_of(start, end, seconds))
        else:
            poly = quintic(kind.measure(start, wind), kind.measure(end, wind), seconds)
        return Met(lanes, start, seconds, poly)

    def note(self, met: Met, share: Array) -> None:
        """Note that these balls meet the event so far into their step."""
        for mine, its in zip(self.start[:3], met.start[:3], strict=True):
            mine[:, met.lanes] = its
        self.start.time_s[met.lanes] = met.start.time_s
        self.later_s[met.lanes] = share * met.seconds


def look(
    sights: Sequence[Sightings], lanes: Lanes, start: Moment, end: Moment, wind: Array
) -> None:
    """Note the events of every ball between ``start`` and ``end``, all kinds in one search."""
    found = [(one, met) for one in sights if (met := one.met(lanes, start, end, wind)) is not None]
    if not found:
        return
    poly = np.concatenate([met.poly for _, met in found], axis=1)
    none = np.zeros(poly.shape[1])
    share = root_between(poly, none, none + 1)
    for (one, met), part in zip(found, _parts([met.lanes for _, met in found]), strict=True):
        one.note(met, share[part])


def settle(sights: Sequence[Sightings], equations: EquationsOfMotion, wind: Array) -> list[Moment]:
    """Every ball at each event; NaN where it never met it. All events' balls step together."""
    found = [nowhere(one.start) for one in sights]
    lanes = [np.flatnonzero(np.isfinite(one.later_s)) for one in sights]
    later = [one.later_s[own] for one, own in zip(sights, lanes, strict=True)]
    for _ in range(_TRIES):
        if not any(own.size for own in lanes):
            break
        starts = [one.start.of(own) for one, own in zip(sights, lanes, strict=True)]
        some, parts = equations.of_lanes(np.concatenate(lanes)), _parts(lanes)
        moment, _ = stepped(some, _joined(starts), np.concatenate(later), wind)
        left = np.empty(len(moment.time_s))
        for one, own, part in zip(sights, lanes, parts, strict=True):
            left[part] = _time_left(*one.kind.of(own).measure(moment.of(part), wind))
        done = np.abs(left) <= LEFT_TO_A_SHORT_STEP_S
        near = shortly(some.of_lanes(done), moment.of(done), left[done], wind)
        here = _parts([np.flatnonzero(done[part]) for part in parts])
        for index, (one, part) in enumerate(zip(sights, parts, strict=True)):
            own, ready, its = lanes[index], done[part], near.of(here[index])
            rest = _time_left(*one.kind.of(own[ready]).measure(its, wind))
            store(found[index], own[ready], nudged(its, rest, wind))
            lanes[index], later[index] = own[~ready], (later[index] + left[part])[~ready]
    return found


def _parts(lanes: Sequence[Lanes]) -> list[slice]:
    """Where each lies when they are laid one after another."""
    ends = np.cumsum([len(own) for own in lanes]).tolist()
    return [slice(end - len(own), end) for own, end in zip(lanes, ends, strict=True)]


def _joined(moments: Sequence[Moment]) -> Moment:
    return Moment(*(np.concatenate(part, axis=-1) for part in zip(*moments, strict=True)))


def height_of(start: Moment, end: Moment, seconds: Array) -> Array:
    """The quintic of the height over a step."""

    def heights(moment: Moment) -> tuple[Array, Array, Array]:
        return moment.place[2], moment.state[2], moment.rate[2]

    return quintic(heights(start), heights(end), seconds)


def stepped(
    equations: EquationsOfMotion, now: Moment, seconds: Array, wind: Array
) -> tuple[Moment, Array]:
    """The balls after one step of order 8, and its error estimate in m/s."""
    gone = step(equations, now.state, now.rate, seconds)
    place = now.place + gone.way + wind[:, None] * seconds
    after = Moment(gone.state, equations.rate(gone.state), place, now.time_s + seconds)
    return after, gone.error_mps


def shortly(equations: EquationsOfMotion, now: Moment, seconds: Array, wind: Array) -> Moment:
    """The balls a little later or earlier, by one step of order 4."""
    state, way = short_step(equations, now.state, now.rate, seconds)
    place = now.place + way + wind[:, None] * seconds
    return Moment(state, equations.rate(state), place, now.time_s + seconds)


def _time_left(way: Array, slope: Array, bend: Array) -> Array:
    """When way + slope t + bend t^2/2 is zero, from t = 0 by two of Newton's steps."""
    with np.errstate(divide="ignore", invalid="ignore"):
        t = -way / slope
        t -= (way + slope * t + bend * t * t / 2) / (slope + bend * t)
    t[np.isnan(t)] = 0.0
    left: Array = np.minimum(np.maximum(t, -0.2), 0.2)
    return left


def nudged(moment: Moment, t: Array, wind: Array) -> Moment:
    """The balls a few microseconds later, by Taylor's second-order term."""
    velocity, push = moment.state[:3], moment.rate[:3]
    place = moment.place + (velocity + wind[:, None]) * t + push * (t * t / 2)
    return Moment(moment.state + moment.rate * t, moment.rate, place, moment.time_s + t)


def store(result: Moment, lanes: Lanes, found: Moment) -> None:
    """Put what was found of some balls into the record of all."""
    result.state[:, lanes] = found.state
    result.rate[:, lanes] = found.rate
    result.place[:, lanes] = found.place
    result.time_s[lanes] = found.time_s
