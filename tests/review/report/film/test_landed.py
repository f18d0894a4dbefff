"""Bias and scatter of feeds that films saw land, held to truths that were drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feedscript.journal.films import LandingSeen
from feedscript.review.report.film.landed import Bias, landed_of
from feedscript.review.report.lesson import Ball
from tests.review.report.film.filmed import ASKED_M, landing

#: What is known of a place, per coordinate: by the ball's own pictures, and by the camera.
OWN_M, CAMERA_M = (math.sqrt(8e-4), math.sqrt(24e-4)), 0.01


def fed(seen: list[LandingSeen]) -> list[Ball]:
    return [
        Ball(one.feed_id, "deep", None, 0.0, None, kind="deep", target_m=ASKED_M, seen=one)
        for one in seen
    ]


def bias_of(places: np.ndarray, camera_m2: float = 1e-4) -> Bias:
    seen = [landing(n, tuple(one), camera_m2) for n, one in enumerate(places.tolist(), 1)]
    (landed,) = landed_of(fed(seen))
    assert landed.bias is not None
    return landed.bias


def inside(bias: Bias, true_m: tuple[float, float]) -> bool:
    turn = math.radians(bias.turn_deg)
    x, y = np.subtract(true_m, bias.off_m)
    along, across = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    return (along / bias.region_m[0]) ** 2 + (across / bias.region_m[1]) ** 2 <= 1


@pytest.mark.parametrize(("count", "camera_m"), [(4, 0.01), (8, 0.01), (30, 0.15)])
def test_the_bias_lies_in_its_region_95_times_of_100(count: int, camera_m: float) -> None:
    """A camera that is 15 cm off moves all balls alike: more of them make it no smaller."""
    random = np.random.default_rng(count)
    true_m, scatter, held, films = (0.3, -0.5), ((0.04, 0.02), (0.02, 0.09)), 0, 600
    for _ in range(films):
        balls = random.multivariate_normal(true_m, scatter, count)
        balls += random.normal(0, OWN_M, (count, 2)) + random.normal(0, camera_m, 2)
        held += inside(bias_of(np.add(ASKED_M, balls), camera_m**2), true_m)
    assert 0.93 <= held / films <= 0.99


def test_the_scatter_is_the_launchers_without_what_balls_are_not_known_to() -> None:
    random = np.random.default_rng(5)
    balls = random.normal((0.1, 0.2), (0.04, 0.06), (4000, 2)) + random.normal(0, OWN_M, (4000, 2))
    bias = bias_of(np.add(ASKED_M, balls))
    assert bias.scatter_m == pytest.approx((0.04, 0.06), rel=0.05)
    assert bias.off_m == pytest.approx((0.1, 0.2), abs=0.005)
    assert bias.clear


def test_no_bias_is_called_clear_no_more_than_5_times_of_100() -> None:
    random = np.random.default_rng(6)
    told = [
        bias_of(np.add(ASKED_M, random.normal(0, 0.2, (10, 2)))).clear  # nothing else is amiss
        for _ in range(600)
    ]
    assert np.mean(told) <= 0.065


def test_too_few_balls_have_no_bias_and_a_refused_one_no_place() -> None:
    seen = [landing(n, (0.4, 9.9)) for n in (1, 2)]
    seen.append(LandingSeen(feed_id=3, why="two-ways"))
    refused = LandingSeen(feed_id=4, refused=1, x_m=3.0, y_m=3.0, xx_m2=0.1, xy_m2=0.0, yy_m2=0.1)
    (landed,) = landed_of([*fed([*seen, refused]), Ball(5, "deep", None, 0.0, None, kind="deep")])
    assert landed.bias is None
    assert [place.number for place in landed.places] == [1, 2]
    assert landed.unseen == {"two-ways": 1, "not-looked-for": 1}
    assert (landed.fed, landed.refused) == (5, 1)


def test_without_a_film_nothing_is_told() -> None:
    assert landed_of([Ball(1, "deep", None, 0.0, None, kind="deep", target_m=ASKED_M)]) == ()
