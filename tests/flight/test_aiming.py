"""Aiming finds every target that can be reached, and refuses honestly."""

from __future__ import annotations

import numpy as np

from feedscript.flight.aiming import Targets, aim
from feedscript.flight.air import ISA_SEA_LEVEL
from feedscript.flight.motion import Conditions, Launches, land


def test_what_was_thrown_is_found_again() -> None:
    rng = np.random.default_rng(5)
    count = 400
    launches = Launches.of(
        rng.uniform(12, 40, count),
        rng.uniform(-4, 30, count),
        rng.uniform(-15, 15, count),
        top_rpm=rng.uniform(-2000, 3000, count),
        side_rpm=rng.uniform(-1500, 1500, count),
        y_m=-12.5,
    ).thrown_by_wheels()
    flown = land(launches)
    aims = aim(
        Targets.of(
            flown.landing_x_m,
            flown.landing_y_m,
            launches.speed_mps,
            top_rpm=launches.top_rpm,
            side_rpm=launches.side_rpm,
            mouth_y_m=-12.5,
        )
    )
    assert aims.reachable.all()
    assert aims.residual_m.max() < 1e-3


def test_out_of_reach_says_by_how_much_and_which_speed_would_do() -> None:
    aims = aim(Targets.of(0, 20, 20))
    assert not aims.reachable[0]
    assert aims.miss_m[0] > 1
    again = aim(Targets.of(0, 20, aims.speed_needed_mps + 0.01))
    assert again.reachable[0]
    assert not aim(Targets.of(0, 20, aims.speed_needed_mps - 0.05)).reachable[0]


def test_wheels_give_no_spin_about_the_throw() -> None:
    aims = aim(Targets.of(1, 9, 25, side_rpm=1500, top_rpm=500))
    along = np.sum(aims.launches.spin() * aims.launches.direction(), axis=0)
    assert abs(along[0]) < 1e-9


def test_both_arcs_in_wind() -> None:
    conditions = Conditions(air=ISA_SEA_LEVEL.blowing(tail_mps=-2, towards_right_mps=3))
    rng = np.random.default_rng(6)
    for high in (False, True):
        targets = Targets.of(
            rng.uniform(-3, 3, 200), rng.uniform(3, 7, 200), 20, top_rpm=500, high=high
        )
        aims = aim(targets, conditions)
        assert aims.reachable.all()
        assert aims.residual_m.max() < 1e-3
        assert (aims.elevation_deg > 35).all() == high
