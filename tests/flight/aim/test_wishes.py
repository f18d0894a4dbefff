"""Aiming with the speed left open: what was thrown is found again, and refusals are honest."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.flight.aim.targets import Targets
from feedscript.flight.aim.wishes import aim_for_apex, aim_for_contact, aim_for_time
from feedscript.flight.bounce import SURFACES
from feedscript.flight.contact import behind_bounce
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, fly

CONDITIONS = Conditions()


def thrown(count: int = 300, seed: int = 8) -> tuple[Launches, Flights, Targets]:
    rng = np.random.default_rng(seed)
    launches = Launches.of(
        rng.uniform(12, 35, count),
        rng.uniform(1, 50, count),
        rng.uniform(-12, 12, count),
        top_rpm=rng.uniform(-1500, 2500, count),
        side_rpm=rng.uniform(-800, 800, count),
        y_m=-12.9,
    ).thrown_by_wheels()
    flights = fly(launches)
    targets = Targets.of(
        flights.landing_x_m,
        flights.landing_y_m,
        top_rpm=launches.top_rpm,
        side_rpm=launches.side_rpm,
        mouth_y_m=-12.9,
    )
    return launches, flights, targets


def test_landing_and_apex_find_the_throw() -> None:
    launches, flights, targets = thrown()
    found = aim_for_apex(targets, flights.apex_m, CONDITIONS)
    assert found.reachable.all()
    assert found.speed_mps == pytest.approx(launches.speed_mps, rel=2e-3)
    assert found.aims.residual_m.max() < 1e-3
    assert found.value == pytest.approx(flights.apex_m, abs=1e-4)


def test_landing_and_flight_time_find_the_throw() -> None:
    launches, flights, targets = thrown()
    found = aim_for_time(targets, flights.flight_s, CONDITIONS)
    assert found.reachable.all()
    assert found.speed_mps == pytest.approx(launches.speed_mps, rel=2e-3)
    assert found.aims.residual_m.max() < 1e-3


def test_landing_and_contact_point_are_both_met() -> None:
    _, flights, targets = thrown(120)
    behind = np.full(len(targets), 2.0)
    hard = SURFACES["hard"]
    heights = behind_bounce(flights, behind, CONDITIONS, hard).place_m[2]
    known = np.isfinite(heights)
    assert known.sum() > 80
    some = np.flatnonzero(known)
    found = aim_for_contact(targets.some(some), heights[some], behind[some], CONDITIONS, hard)
    assert found.reachable.all()
    assert found.aims.residual_m.max() < 1e-3
    met = behind_bounce(found.aims.flights, behind[some], CONDITIONS, hard)
    assert met.place_m[2] == pytest.approx(heights[some], abs=1e-3)


def test_an_apex_below_the_mouth_is_refused_with_what_can_be_had() -> None:
    found = aim_for_apex(Targets.of(0, 8), np.array([0.7]), CONDITIONS)
    assert not found.reachable[0]
    assert found.least[0] >= 1.0
    assert found.most[0] > 5


def test_a_time_shorter_than_any_throw_takes_is_refused() -> None:
    found = aim_for_time(Targets.of(0, 8), np.array([0.1]), CONDITIONS)
    assert not found.reachable[0]
    assert found.least[0] > 0.1


def test_a_contact_above_any_bounce_is_refused() -> None:
    found = aim_for_contact(
        Targets.of(0, 8), np.array([12.0]), np.array([2.0]), CONDITIONS, SURFACES["clay"]
    )
    assert not found.reachable[0]
    assert 2.0 < found.most[0] < 12.0
