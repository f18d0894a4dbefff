"""Paths past the bounce, held to the flights that everything else flies by."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from feedscript.flight.bounce import SURFACES, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import DEFAULT_CONDITIONS
from feedscript.flight.motion.flights import land
from feedscript.flight.motion.tracks import track
from feedscript.watch.seek.expected import AT, Expected
from feedscript.watch.seek.paths import AFTER_S, paths

FEED = Expected(
    number=1,
    left_s=2.0,
    mouth_m=(0.3, -12.9, 1.0),
    speed_mps=26.0,
    elevation_deg=7.0,
    azimuth_deg=4.0,
    top_rpm=1500.0,
    side_rpm=300.0,
)
LAUNCH = Launches.of(26.0, 7.0, 4.0, top_rpm=1500.0, side_rpm=300.0, x_m=0.3, y_m=-12.9, z_m=1.0)


def test_a_path_to_the_bounce_is_the_flights() -> None:
    found, flight, way = paths(FEED.middle[None], FEED), land(LAUNCH), track(LAUNCH, points=40)
    assert found.flight_s == pytest.approx(flight.flight_s, abs=2e-5)
    assert found.landing_m[0] == pytest.approx(
        (flight.landing_x_m[0], flight.landing_y_m[0]), abs=5e-4
    )
    places = found.at(FEED.left_s + way.time_s[0, :-1])[0]
    assert places == pytest.approx(way.place_m[0, :-1], abs=5e-4)


def test_a_path_after_the_bounce_is_the_rebounds() -> None:
    found, flight = paths(FEED.middle[None], FEED), land(LAUNCH)
    after = rebound(flight, DEFAULT_CONDITIONS, SURFACES["hard"]).release
    way = track(after, points=200)
    soon = way.time_s[0] < AFTER_S - 0.01
    places = found.at(FEED.left_s + found.flight_s[0] + way.time_s[0, soon] + 1e-9)[0]
    assert places == pytest.approx(way.place_m[0, soon], abs=1e-3)


def test_every_ball_has_its_own_drag_and_bounce() -> None:
    balls = np.tile(FEED.middle, (4, 1))
    balls[1, AT["drag"]] = 1.2
    balls[2, AT["rise"]] = 0.8
    balls[3, AT["kick_deg"]] = 5.0
    found = paths(balls, FEED)
    ball = DEFAULT_CONDITIONS.ball.with_factors(1.2, 1.0)
    slowed = land(LAUNCH, msgspec.structs.replace(DEFAULT_CONDITIONS, ball=ball))
    assert found.flight_s[1] == pytest.approx(slowed.flight_s[0], abs=2e-5)
    later = found.at(found.left_s[:, None] + found.flight_s[:, None] + 0.2)[:, 0]
    assert later[2, 2] < later[0, 2] - 0.1
    assert later[3, 0] > later[0, 0] + 0.1
    assert later[0] == pytest.approx(
        paths(balls[:1], FEED).at(FEED.left_s + found.flight_s + 0.2)[0, 0]
    )


def test_places_are_known_from_the_mouth_to_some_time_after_the_bounce_only() -> None:
    found = paths(FEED.middle[None], FEED)
    end = FEED.left_s + float(found.flight_s[0]) + AFTER_S
    known = np.isfinite(found.at(np.array([1.9, 2.01, end - 0.01, end + 0.01]))[0, :, 0])
    assert known.tolist() == [False, True, True, False]


def test_landings_change_evenly_with_what_makes_them() -> None:
    """Slopes are taken of them: a jump of a centimetre would be a slope of nothing that is."""
    balls = np.tile(FEED.middle, (400, 1))
    balls[:, AT["speed_mps"]] += np.linspace(0, 0.4, 400)
    deep = paths(balls, FEED).landing_m[:, 1]
    assert np.abs(np.diff(deep, 2)).max() < 1e-5
