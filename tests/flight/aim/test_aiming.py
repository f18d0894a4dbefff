"""Aiming finds every target that can be reached, and refuses honestly."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from msgspec.structs import replace

from feedscript.flight.aim.aiming import Targets, aim
from feedscript.flight.aim.sensitivity import sensitivity
from feedscript.flight.air import ISA_SEA_LEVEL
from feedscript.flight.motion.flights import Conditions, Flights, Launches, land


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
    conditions = Conditions(air=replace(ISA_SEA_LEVEL, wind_mps=(3, -2)))
    rng = np.random.default_rng(6)
    for high in (False, True):
        targets = Targets.of(
            rng.uniform(-3, 3, 200), rng.uniform(3, 7, 200), 20, top_rpm=500, high=high
        )
        aims = aim(targets, conditions)
        assert aims.reachable.all()
        assert aims.residual_m.max() < 1e-3
        assert (aims.elevation_deg > 35).all() == high


def thrown_at_random(count: int, seed: int) -> tuple[Launches, Flights]:
    """Throws over the whole promised range; where they land can be reached, by definition."""
    rng = np.random.default_rng(seed)
    launches = Launches.of(
        rng.uniform(8, 45, count),
        rng.uniform(-5, 60, count),
        rng.uniform(-20, 20, count),
        top_rpm=rng.uniform(-3000, 3500, count),
        side_rpm=rng.uniform(-1500, 1500, count),
        y_m=-12,
        z_m=rng.uniform(0.4, 2.2, count),
    ).thrown_by_wheels()
    return launches, land(launches)


def none_lost(count: int, seed: int) -> None:
    launches, flights = thrown_at_random(count, seed)
    aims = aim(
        Targets.of(
            flights.landing_x_m,
            flights.landing_y_m,
            launches.speed_mps,
            top_rpm=launches.top_rpm,
            side_rpm=launches.side_rpm,
            mouth_z_m=launches.z_m,
        )
    )
    assert aims.reachable.all()
    assert aims.residual_m.max() < 1e-3
    again = land(aims.launches)
    gap = np.hypot(again.landing_x_m - flights.landing_x_m, again.landing_y_m - flights.landing_y_m)
    assert gap.max() < 1e-3


def test_three_thousand_random_reachable_targets_are_all_reached() -> None:
    none_lost(3000, seed=21)


@pytest.mark.long
@pytest.mark.timeout(600)
def test_a_hundred_thousand_random_reachable_targets_are_all_reached() -> None:
    none_lost(100_000, seed=22)


@pytest.mark.parametrize("high", [False, True])
def test_refusals_are_honest_on_a_fine_grid_of_elevations(high: bool) -> None:
    """Every elevation of a fine grid is thrown: a target is within reach of an arc exactly where
    the grid's distances pass over it on that arc's side of the farthest throw."""
    rng = np.random.default_rng(31)
    count, low_deg, high_deg = 80, -10.0, 70.0
    grid = np.linspace(low_deg, high_deg, 801)
    targets = Targets.of(
        rng.uniform(-4, 4, count),
        rng.uniform(-9, 25, count),
        rng.uniform(8, 35, count),
        top_rpm=rng.uniform(-2000, 3000, count),
        high=high,
    )
    aims = aim(targets, elevations_deg=(low_deg, high_deg))
    flown = land(
        Launches.of(
            np.tile(targets.speed_mps, 801),
            np.repeat(grid, count),
            top_rpm=np.tile(targets.top_rpm, 801),
            y_m=-12.0,
        )
    )
    reach = flown.landing_y_m.reshape(801, count) + 12.0
    refused = 0
    for i in range(count):
        top = int(np.argmax(reach[:, i]))
        side = reach[top:, i] if high else reach[: top + 1, i]
        clear = np.abs(side - targets.distance_m[i]).min() > 0.01
        held = side.min() <= targets.distance_m[i] <= side.max()
        if held or clear:
            assert aims.reachable[i] == held
        if not held and clear:
            refused += 1
            short = targets.distance_m[i] - side.max()
            past = targets.distance_m[i] - side.min()
            assert aims.miss_m[i] == pytest.approx(short if short > 0 else past, abs=0.01)
    assert refused > 10


def test_the_speed_that_would_do_does_and_a_little_less_does_not() -> None:
    rng = np.random.default_rng(32)
    targets = Targets.of(0, rng.uniform(-11, 25, 60), rng.uniform(8, 35, 60))
    aims = aim(targets)
    out = np.flatnonzero(~aims.reachable & np.isfinite(aims.speed_needed_mps))
    assert len(out) > 10
    nudge = np.where(aims.miss_m[out] > 0, 0.01, -0.01)
    needed = aims.speed_needed_mps[out]
    assert aim(targets.some(out).at_speed(needed + nudge)).reachable.all()
    assert not aim(targets.some(out).at_speed(needed - 5 * nudge)).reachable.any()


def test_sensitivities_predict_where_a_nudged_ball_lands() -> None:
    launches, _ = thrown_at_random(200, seed=33)
    some = launches.some(launches.elevation_deg < 35)
    found = sensitivity(some, Conditions())
    start = land(some)
    steps = {"speed_mps": 0.02, "elevation_deg": -0.03, "azimuth_deg": 0.1, "top_rpm": -15.0}
    for name, step in steps.items():
        moved = msgspec.structs.replace(
            some, **{name: getattr(some, name) + step}
        ).thrown_by_wheels()
        landed = land(moved)
        way = np.stack(
            [landed.landing_x_m - start.landing_x_m, landed.landing_y_m - start.landing_y_m]
        )
        assert way == pytest.approx(getattr(found, name) * step, abs=4e-3)


def test_a_feed_aims_the_same_to_the_last_bit_whatever_stands_beside_it() -> None:
    _, flights = thrown_at_random(60, seed=34)
    targets = Targets.of(flights.landing_x_m, flights.landing_y_m, 30, top_rpm=900)
    together = aim(targets)
    for i in (0, 17, 59):
        alone = aim(targets.some(np.array([i])))
        assert alone.elevation_deg[0] == together.elevation_deg[i]
        assert alone.flights.flight_s[0] == together.flights.flight_s[i]
