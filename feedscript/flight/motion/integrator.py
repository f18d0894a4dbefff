"""The integrator: a batch of balls from release to the ground, each with steps of its own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from feedscript.flight.launches import Release
from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.descent import close_to_ground, fall_s, first_dip_s, touch_down
from feedscript.flight.motion.equations_of_motion import EquationsOfMotion
from feedscript.flight.motion.events import (
    Apex,
    Moment,
    Plane,
    Sightings,
    look,
    settle,
    stepped,
    store,
    unknown,
)

_TOLERANCE_MPS = 3e-4  # error estimate allowed in one step
_LONGEST_S = 60.0
_MOST_ROUNDS = 400


class Integration:
    """One batch on its way down: ``landing`` is where each ball bounced, NaN if it never did."""

    def __init__(
        self, release: Release, conditions: Conditions, kinds: Sequence[Plane | Apex]
    ) -> None:
        self.wind = conditions.wind
        self.equations = conditions.equations(release.spin_radps)
        state = self.equations.state(release.velocity_mps - self.wind[:, None])
        rows, balls = state.shape
        self._floor = conditions.ball.radius_m
        self._sights = [Sightings(kind, balls, rows) for kind in kinds]
        self.landing = unknown(balls, rows)
        self._go(state, release.place_m)

    def events(self) -> list[Moment]:
        """Every ball at each event of ``kinds``; NaN if it did not meet it before landing."""
        moments = settle(self._sights, self.equations, self.wind)
        for moment in moments:
            late = ~(moment.time_s <= self.landing.time_s)
            for part in moment:
                part[..., late] = np.nan
        return moments

    def _able(self, state: Array, place: Array) -> Lanes:
        """Balls that can fly: finite, and above the ground or leaving it."""
        finite = np.isfinite(state).all(axis=0) & np.isfinite(place).all(axis=0)
        aloft = (place[2] > self._floor) | ((place[2] == self._floor) & (state[2] > 0))
        return np.flatnonzero(finite & aloft)

    def _go(self, state: Array, place: Array) -> None:
        lanes = self._able(state, place)
        equations, state = self.equations.of_lanes(lanes), state[:, lanes]
        now = Moment(state, equations.rate(state), place[:, lanes], np.zeros(len(lanes)))
        allowed, again = _first_step(equations, now), np.full(len(lanes), np.nan)
        fall = fall_s(now, self._floor)
        for _ in range(_MOST_ROUNDS):
            if not lanes.size:
                break
            seconds = np.where(np.isnan(again), _laid(fall, allowed), again)
            after, error = stepped(equations, now, seconds, self.wind)
            allowed = seconds * _growth(error)
            good = error <= _TOLERANCE_MPS
            left = fall_s(after, self._floor)
            after, landed, again = self._met(equations, now, after, left, good)
            good &= np.isnan(again)
            self._look(lanes, good, now, after)
            here = landed.nonzero()[0]
            if here.size:
                store(self.landing, lanes[here], after.of(here))
            if not good.all():
                after = Moment(*(np.where(good, a, b) for a, b in zip(after, now, strict=True)))
                left = np.where(good, left, fall)
            now, fall = after, left
            going = (~landed & (after.time_s < _LONGEST_S)).nonzero()[0]
            if len(going) < len(lanes):
                lanes, fall = lanes[going], fall[going]
                allowed, again = allowed[going], again[going]
                now, equations = after.of(going), equations.of_lanes(going)

    def _met(
        self, equations: EquationsOfMotion, now: Moment, after: Moment, left: Array, good: Mask
    ) -> tuple[Moment, Mask, Array]:
        """Where the step met the ground, of balls that are ``left`` (seconds) above it: the balls,
        those that landed now at their touch-down, which these are, and how long the step must be
        for those that went too far (else NaN)."""
        landed = good & close_to_ground(after, left)
        again = np.full(len(left), np.nan)
        through = np.flatnonzero(good & ~landed & (after.place[2] <= self._floor))
        if through.size:
            seconds = after.time_s[through] - now.time_s[through]
            back = np.nan_to_num(left[through], nan=-np.inf)
            again[through] = np.maximum(seconds + back, seconds / 4)
        dips = np.flatnonzero(good & ~landed & (now.state[2] < 0) & (after.state[2] > 0))
        if dips.size:
            again[dips] = first_dip_s(now.of(dips), after.of(dips), self._floor)
        here = np.flatnonzero(landed)
        if here.size:
            down = touch_down(
                equations.of_lanes(here), after.of(here), left[here], self._floor, self.wind
            )
            store(after, here, down)
        return after, landed, again

    def _look(self, lanes: Lanes, good: Mask, now: Moment, after: Moment) -> None:
        """Note the events of every ball whose step was good."""
        if not self._sights:
            return
        if not good.all():
            seen = np.flatnonzero(good)
            lanes, now, after = lanes[seen], now.of(seen), after.of(seen)
        look(self._sights, lanes, now, after, self.wind)


def _laid(fall: Array, allowed: Array) -> Array:
    """Steps no longer than allowed, of which a whole number should end at the ground, which is a
    ``fall`` of so many seconds away."""
    pieces = np.maximum(np.ceil(fall / allowed - 1e-6), 1.0)
    return np.where(fall > 0, fall / pieces, allowed)


def _growth(error: Array) -> Array:
    growth = 0.9 * (_TOLERANCE_MPS / (error + 1e-12)) ** 0.125
    return np.minimum(np.maximum(np.where(np.isnan(growth), 0.2, growth), 0.2), 3.0)


def _first_step(equations: EquationsOfMotion, now: Moment) -> Array:
    """A step that most balls take at once: a share of the time in which drag slows them."""
    speed = np.sqrt(np.sum(now.state[:3] ** 2, axis=0))
    seconds: Array = 1.2 / (1.0 + equations.per_m * speed)
    return seconds
