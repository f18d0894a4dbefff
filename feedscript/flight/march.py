"""Marching a batch of balls to the ground, each with its own steps."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feedscript.flight.conditions import Conditions
from feedscript.flight.events import Apex, Moment, Plane, Sightings, look_for_ground
from feedscript.flight.field import Field, step
from feedscript.flight.launches import Release
from feedscript.flight.models import Array, Lanes, Mask

_TOLERANCE_MPS = 3e-4  # error estimate allowed in one step
_LONGEST_S = 60.0
_MOST_ROUNDS = 400


class March:
    """One batch on its way down. After :meth:`go`, events can be settled."""

    def __init__(
        self, release: Release, conditions: Conditions, kinds: Sequence[Plane | Apex]
    ) -> None:
        self.wind = conditions.wind
        self.field = conditions.field(release.spin_radps)
        state = self.field.state(release.velocity_mps - self.wind[:, None])
        rows, balls = state.shape
        self._floor = conditions.ball.radius_m
        self._ground = Sightings(Plane((0.0, 0.0, 1.0), self._floor), balls, rows)
        self._sights = [Sightings(kind, balls, rows) for kind in kinds]
        self._go(state, release.place_m)

    def landing(self) -> Moment:
        """Every ball at its bounce; NaN for one that does not come down."""
        return self._ground.settle(self.field, self.wind)

    def event(self, index: int, landing: Moment) -> Moment:
        """Every ball at the event ``kinds[index]``; NaN if it did not meet it before landing."""
        moment = self._sights[index].settle(self.field, self.wind)
        late = ~(moment.time_s <= landing.time_s)
        for part in moment:
            part[..., late] = np.nan
        return moment

    def _able(self, state: Array, place: Array) -> Mask:
        """Balls that can fly: finite, and above the ground or leaving it."""
        finite = np.isfinite(state).all(axis=0) & np.isfinite(place).all(axis=0)
        aloft: Mask = (place[2] > self._floor) | ((place[2] == self._floor) & (state[2] > 0))
        return finite & aloft

    def _go(self, state: Array, place: Array) -> None:
        lanes = np.flatnonzero(self._able(state, place))
        field, state = self.field.of_lanes(lanes), state[:, lanes]
        now = Moment(state, field.rate(state), place[:, lanes], np.zeros(len(lanes)))
        seconds = _first_step(field, now)
        for _ in range(_MOST_ROUNDS):
            if not lanes.size:
                break
            after, error = self._stepped(field, now, seconds)
            good = error <= _TOLERANCE_MPS
            landed = self._look(lanes, good, now, after)
            seconds = seconds * _growth(error)
            if good.all():
                now = after
            else:
                now = Moment(*(np.where(good, a, b) for a, b in zip(after, now, strict=True)))
            going = np.flatnonzero(~landed & (now.time_s < _LONGEST_S))
            lanes, seconds, now = lanes[going], seconds[going], now.of(going)
            field = field.of_lanes(going)

    def _look(self, lanes: Lanes, good: Mask, now: Moment, after: Moment) -> Mask:
        """Note the events of every ball whose step was good; which of them have landed."""
        seen = np.flatnonzero(good)
        if len(seen) < len(lanes):
            lanes, now, after = lanes[seen], now.of(seen), after.of(seen)
        landed = np.zeros_like(good)
        landed[seen] = look_for_ground(self._ground, self._floor, lanes, now, after)
        for sight in self._sights:
            sight.look(lanes, now, after, self.wind)
        return landed

    def _stepped(self, field: Field, now: Moment, seconds: Array) -> tuple[Moment, Array]:
        gone = step(field, now.state, now.rate, seconds)
        place = now.place + gone.way + self.wind[:, None] * seconds
        after = Moment(gone.state, field.rate(gone.state), place, now.time_s + seconds)
        return after, gone.error_mps


def _growth(error: Array) -> Array:
    growth = 0.9 * (_TOLERANCE_MPS / (error + 1e-12)) ** 0.125
    clipped: Array = np.clip(np.nan_to_num(growth, nan=0.2), 0.2, 3.0)
    return clipped


def _first_step(field: Field, now: Moment) -> Array:
    """A step that most balls take at once: a share of the time in which drag slows them."""
    speed = np.sqrt(np.sum(now.state[:3] ** 2, axis=0))
    seconds: Array = 1.2 / (1.0 + field.per_m * speed)
    return seconds
