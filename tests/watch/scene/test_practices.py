"""Films by a few words: what they promise is in them."""

from __future__ import annotations

import numpy as np
import pytest

from tests.watch.scene.court import FULL, GROUNDS
from tests.watch.scene.flying import Flight, aimed, drawn_ball, fly
from tests.watch.scene.practices import LOOKS, Practice, feeds, practice
from tests.watch.scene.render import render
from tests.watch.scene.returns import came_to, returned


@pytest.fixture(scope="module")
def feed() -> Flight:
    return feeds(1, np.random.default_rng(3))[1][0]


@pytest.mark.parametrize("outcome", ["in", "net", "long", "left", "right"])
def test_a_hit_comes_to_what_was_asked(feed: Flight, outcome: str) -> None:
    made = returned(feed, outcome, np.random.default_rng(5))
    contact = np.array(made.hit.place_m)
    assert came_to(made.back) == outcome
    assert made.feed.taken
    assert made.feed.times_s[-1] == made.hit.at_s == made.back.times_s[0]
    assert made.feed.places_m[-1] == pytest.approx(contact)
    assert made.back.places_m[0] == pytest.approx(contact)
    assert len(made.feed.bounces()) == 1
    landing = made.back.bounces()[0].place_m
    checks = {
        "in": abs(landing[0]) < 4.2 and -11.95 < landing[1] < 0,
        "net": landing[1] > 0,
        "long": landing[1] < -FULL.half_long_m,
        "left": landing[0] > 4.1,  # as the hitter sees it, who looks along -y
        "right": landing[0] < -4.1,
    }
    assert checks[outcome]


def test_an_aimed_ball_lands_there() -> None:
    (asked,), _ = feeds(1, np.random.default_rng(9))
    ball = drawn_ball(np.random.default_rng(1))
    launch = aimed(asked.launch, (1.5, 8.0), ball)
    bounce = fly(launch, ball).bounces()[0]
    assert bounce.place_m[:2] == pytest.approx((1.5, 8.0), abs=0.01)
    with pytest.raises(ValueError, match="does not reach"):
        aimed(asked.launch, (0.0, 60.0), ball)


def test_real_balls_stray_from_what_was_asked_but_not_far() -> None:
    asked, flown = feeds(4, np.random.default_rng(11))
    off = [
        np.hypot(*np.subtract(flight.bounces()[0].place_m[:2], one.landing_m))
        for one, flight in zip(asked, flown, strict=True)
    ]
    assert 0.1 < np.median(off) < 2.5


@pytest.mark.parametrize("court", ["orange", "red"])
def test_small_courts_get_their_own_slower_balls(court: str) -> None:
    asked, flown = feeds(2, np.random.default_rng(4), court=court)
    ground = GROUNDS[court]
    for one, flight in zip(asked, flown, strict=True):
        landing = flight.bounces()[0].place_m
        assert 0 < landing[1] < ground.half_long_m + 1.5
        assert abs(landing[0]) < ground.half_wide_m + 1.0
        assert flight.ball.mass_kg < 0.05
        assert flight.ball.restitution < 0.75  # a yellow one here: 0.77, less or more by 0.025
        assert one.launch.speed_mps < 22


def lively(look: str, seed: int = 2) -> Practice:
    return practice(
        seed, balls=1, size=(320, 180), look=look, place="beside", busy=True, hits=("in",),
        shake_px=0.5, row_time_s=3e-5, gap_s=1.4, rate_hz=25.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    "look",
    [each if each == "clay" else pytest.param(each, marks=pytest.mark.long) for each in LOOKS],
)
def test_every_look_is_filmed_and_filmed_again(look: str) -> None:
    film, again = render(lively(look).scene), render(lively(look).scene)
    count = 0
    for number, (one, other) in enumerate(zip(film.frames(), again.frames(), strict=True)):
        if number % 8 == 0:
            assert (one == other).all()
            assert 10 < one.mean() < 245
            assert one.std() > 8
        count += 1
    assert count == len(film.truth.times_s)
    assert film.truth.balls[0].track.seen.min() >= 0


def test_a_bounce_leaves_its_mark_on_clay_only() -> None:
    def at_landing(look: str) -> float:
        """How much darker the ground got where the ball came down."""
        made = practice(
            3, balls=1, size=(640, 360), look=look, place="beside", noise=0.0, rate_hz=10.0
        )
        film = render(made.scene)
        frames = list(film.frames())
        (landing,) = (ball.landing_m for ball in film.truth.balls)
        (u, v), _ = film.truth.lens.project(np.array([*landing, 0.0]))
        some = np.s_[round(v) - 1 : round(v) + 2, round(u) - 1 : round(u) + 2]
        return float((frames[0][some].astype(int) - frames[-1][some]).max())

    assert at_landing("clay") > 2
    assert at_landing("noon") == 0
