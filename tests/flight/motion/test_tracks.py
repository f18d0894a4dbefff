"""Whole paths, crossings and spin decay agree with the flights."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from feedscript.flight.air import ISA_SEA_LEVEL
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.equations_of_motion import Decay
from feedscript.flight.motion.flights import Plane, cross, fly, land
from feedscript.flight.motion.tracks import track


def some(count: int, seed: int = 2) -> Launches:
    rng = np.random.default_rng(seed)
    return Launches.of(
        rng.uniform(8, 45, count),
        rng.uniform(-5, 60, count),
        rng.uniform(-10, 10, count),
        top_rpm=rng.uniform(-2500, 3500, count),
        side_rpm=rng.uniform(-1500, 1500, count),
        y_m=-12.0,
    )


def test_paths_run_from_mouth_to_bounce_through_the_apex() -> None:
    launches = some(200)
    conditions = Conditions(air=replace(ISA_SEA_LEVEL, wind_mps=(-2, 3)))
    flights, path = fly(launches, conditions), track(launches, conditions, 400)
    assert path.place_m[:, 0] == pytest.approx(launches.release().place_m.T)
    assert path.place_m[:, -1, 0] == pytest.approx(flights.landing_x_m, abs=1e-3)
    assert path.place_m[:, -1, 1] == pytest.approx(flights.landing_y_m, abs=1e-3)
    assert path.place_m[:, :, 2].max(axis=1) == pytest.approx(flights.apex_m, abs=2e-3)
    for i in range(200):
        if np.isfinite(flights.net_s[i]):
            z = np.interp(flights.net_s[i], path.time_s[i], path.place_m[i, :, 2])
            assert z == pytest.approx(flights.net_height_m[i], abs=2e-3)


def test_velocities_of_a_path_are_its_slopes() -> None:
    path = track(some(20), Conditions(), 801)
    slopes = np.gradient(path.place_m, axis=1) / np.gradient(path.time_s, axis=1)[:, :, None]
    assert slopes[:, 5:-5] == pytest.approx(path.velocity_mps[:, 5:-5], abs=5e-3)


def test_net_and_receiver_planes_are_crossed_where_a_split_flight_says() -> None:
    launches = some(100)
    flights = fly(launches)
    net, far = cross(launches, [Plane((0, 1, 0), 0.0), Plane((0, 1, 0), 1e6)])
    assert net.place_m[2] == pytest.approx(flights.net_height_m, abs=1e-9, nan_ok=True)
    assert np.isnan(far.time_s).all()


def test_spin_that_decays_steadily_follows_its_exponential() -> None:
    launches = some(50)
    flights = land(launches, Conditions(decay=Decay(per_s=0.3)))
    before = np.linalg.norm(launches.spin(), axis=0)
    after = np.linalg.norm(flights.bounce_spin_radps, axis=0)
    assert after == pytest.approx(before * np.exp(-0.3 * flights.flight_s), rel=1e-6)


def test_golf_like_decay_is_a_few_percent_and_shortens_no_flight_much() -> None:
    launches = Launches.of(28, 8, top_rpm=2500)
    plain = land(launches)
    decayed = land(launches, Conditions(decay=Decay.golf(DEFAULT_BALL)))
    ratio = np.linalg.norm(decayed.bounce_spin_radps) / np.linalg.norm(plain.bounce_spin_radps)
    assert 0.95 < ratio < 1.0
    assert 0 < decayed.landing_y_m[0] - plain.landing_y_m[0] < 0.2
