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
from tests.watch.scene.flying import Air, Ball, Launch, fly

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


def aside_m(ball: Ball, air: Air) -> np.ndarray:
    """By how much the scene's own ball is elsewhere half a second on, for seam or wind."""
    launch = Launch(
        at_s=0.0, place_m=FEED.mouth_m, speed_mps=26.0, elevation_deg=7.0, azimuth_deg=4.0
    )
    plain = msgspec.structs.replace(ball, seam_lift=(0.0, 0.0))
    return fly(launch, ball, air).at(0.5) - fly(launch, plain, Air()).at(0.5)


@pytest.mark.parametrize(
    ("changed", "seam", "wind"),
    [
        ({"push_right": 0.03}, (0.03, 0.0), (0.0, 0.0)),
        ({"push_up": 0.03}, (0.0, 0.03), (0.0, 0.0)),
        ({"wind_along_mps": -2.0}, (0.0, 0.0), (0.0, -2.0)),
        ({"wind_right_mps": 2.0}, (0.0, 0.0), (2.0, 0.0)),
    ],
)
def test_seam_and_wind_push_as_they_push_a_ball_that_something_else_reckons(
    changed: dict[str, float], seam: tuple[float, float], wind: tuple[float, float]
) -> None:
    turn = np.radians(FEED.azimuth_deg)
    along = wind[0] * np.cos(turn) + wind[1] * np.sin(turn)
    across = wind[1] * np.cos(turn) - wind[0] * np.sin(turn)
    wanted_m = aside_m(Ball(seam_lift=seam), Air(1.2, (along, across, 0.0)))
    balls = np.tile(FEED.middle, (2, 1))
    balls[:, [AT["top_rpm"], AT["side_rpm"]]] = 0.0
    for name, value in changed.items():
        balls[1, AT[name]] = value
    plain, pushed = paths(balls, FEED).at(np.array([FEED.left_s + 0.5]))[:, 0]
    assert np.linalg.norm(wanted_m) > 0.03
    assert pushed - plain == pytest.approx(wanted_m, rel=0.15, abs=0.01)


def test_what_pushes_after_the_bounce_pushes_there_alone() -> None:
    balls = np.tile(FEED.middle, (2, 1))
    balls[1, AT["then_right"]] = 0.03
    found = paths(balls, FEED)
    assert found.landing_m[0] == pytest.approx(found.landing_m[1])
    later = found.at(found.left_s[:, None] + found.flight_s[:, None] + 0.4)[:, 0]
    assert later[1, 0] > later[0, 0] + 0.01


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
