"""Expectations of a whole lesson's size: balls, time, fastest ball, share of rest."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from feedscript.language.program import Bound, Compare, Measure
from feedscript.plan.expect.draws import Drawing, drawn_runs
from feedscript.plan.expect.outcome import CounterExample, Outcome, fails, passes
from feedscript.plan.expect.resting import rest_share
from feedscript.plan.interpreter.actions import (
    Action,
    Pause,
    PickUp,
    SendBall,
    StartStations,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.model import Plan

#: Two numbers this close are the same: times are whole milliseconds, speeds are quantised.
_SAME = 1e-6


def bound(wanted: Bound, drawing: Drawing) -> Outcome:
    """Whether every run of the plan keeps the bound."""
    measure = _MEASURES[wanted.measure]
    least, most = measure.of_plan(drawing.plan)
    figure = measure.words(least, most)
    if _holds(wanted, least) and _holds(wanted, most):
        return passes(figure)
    return fails(figure, _example(wanted, measure, drawing))


def _holds(wanted: Bound, value: float) -> bool:
    match wanted.compare:
        case Compare.AT_MOST:
            return value <= wanted.value + _SAME
        case Compare.AT_LEAST:
            return value >= wanted.value - _SAME
        case Compare.BELOW:
            return value < wanted.value - _SAME
        case Compare.ABOVE:
            return value > wanted.value + _SAME
        case Compare.EXACTLY:
            return abs(value - wanted.value) <= _SAME


def _example(wanted: Bound, measure: _Measured, drawing: Drawing) -> CounterExample | None:
    """The first drawn run that breaks the bound."""
    for seed, run in drawn_runs(drawing):
        value = measure.of_run(drawing.plan, run)
        if not _holds(wanted, value):
            balls = sum(isinstance(action, SendBall | WatchSpeed) for action in run)
            return CounterExample(seed, balls, f"this run comes to {measure.words(value, value)}")
    return None


class _Measured(msgspec.Struct, frozen=True):
    of_plan: Callable[[Plan], tuple[float, float]]
    of_run: Callable[[Plan, Sequence[Action]], float]
    factor: float
    digits: int
    unit: str

    def words(self, least: float, most: float) -> str:
        low, high = (f"{value * self.factor:.{self.digits}f}" for value in (least, most))
        span = low if low == high else f"{low} to {high}"
        return f"{span} {self.unit}"


def _balls(plan: Plan) -> tuple[float, float]:
    least, most = plan.bounds.balls
    return float(least), float(most)


def _time(plan: Plan) -> tuple[float, float]:
    return plan.bounds.time_s


def _fastest(plan: Plan) -> tuple[float, float]:
    found = plan.bounds
    return found.fastest_least_mps, found.fastest_mps


def _balls_of(_: Plan, run: Sequence[Action]) -> float:
    return float(sum(isinstance(action, SendBall | WatchSpeed) for action in run))


def time_of(_: Plan, run: Sequence[Action]) -> float:
    """How long a run took, without the time that people take."""
    ends = [action.at_s for action in run]
    ends += [action.until_s for action in run if isinstance(action, Pause | PickUp | StartStations)]
    ends += [a.until_s for a in run if isinstance(a, TakeTurn) and a.until_s is not None]
    return max(ends, default=0.0)


def _fastest_of(plan: Plan, run: Sequence[Action]) -> float:
    sent = (action for action in run if isinstance(action, SendBall | WatchSpeed))
    return max((plan.feeds[action.feed].speed_mps for action in sent), default=0.0)


def _rest_of(plan: Plan, run: Sequence[Action]) -> float:
    took = time_of(plan, run)
    stations = {action.station for action in run}
    rested = {
        name: sum(
            action.until_s - action.at_s
            for action in run
            if isinstance(action, Pause | PickUp) and action.station == name
        )
        for name in stations
    }
    outside = rested.pop("", 0.0)
    return (outside + min(rested.values(), default=0.0)) / took if took else 0.0


_MEASURES = {
    Measure.BALLS: _Measured(_balls, _balls_of, 1.0, 0, "balls"),
    Measure.TIME: _Measured(_time, time_of, 1 / 60, 2, "min"),
    Measure.FASTEST: _Measured(_fastest, _fastest_of, 3.6, 1, "km/h"),
    Measure.REST: _Measured(rest_share, _rest_of, 100.0, 1, "% rest"),
}
