"""Corridors against balls that were thrown for it, and distances against hand-made areas."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.flight.bounce import SURFACES, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.motion import fly
from feedscript.flight.tracks import track
from feedscript.launcher.scatter import mouth_samples
from feedscript.plan.flying import conditions_for
from feedscript.plan.model import Plan
from feedscript.safety.case import Case
from feedscript.safety.envelope import (
    BALL_RADIUS_M,
    DRAWN_M,
    Envelope,
    apart_m,
    clearance_m,
)
from feedscript.safety.flown import throw_of_feed
from tests.safety.scenes import COURT, PROFILE, Wish, scene

BALLS = 4000


def thrown(plan: Plan, balls: int = BALLS) -> np.ndarray:
    """Whole ways of scattered balls over both bounces: (ball, point, 3)."""
    feed = plan.feeds[0]
    conditions = conditions_for(plan.court, plan.balls, PROFILE)
    random = np.random.default_rng(5)
    speed, elevation, azimuth, top, side = mouth_samples(
        PROFILE, throw_of_feed(feed), balls, random
    ).T
    x, y, z = plan.launchers[0].mouth_m
    launches = Launches.of(
        speed, elevation, azimuth, top_rpm=top, side_rpm=side, x_m=x, y_m=y, z_m=z
    ).thrown_by_wheels()
    flights = fly(launches, conditions)
    after = rebound(flights, conditions, SURFACES[plan.court.surface or ""]).release
    ways = (track(launches, conditions, 60).place_m, track(after, conditions, 60).place_m)
    return np.concatenate(ways, axis=1)


@pytest.mark.parametrize(
    "wish",
    [
        Wish(),
        Wish(land_m=(-3.0, 10.5), speed_mps=28.0, top_rpm=1800.0),
        Wish(land_m=(2.0, 7.0), speed_mps=19.0, top_rpm=-700.0),
    ],
)
def test_balls_stay_in_their_corridor_as_often_as_three_sigma_say(wish: Wish) -> None:
    plan = scene(wish)
    envelope = Case(plan, (PROFILE,)).envelopes[0]
    turn = math.radians(plan.feeds[0].azimuth_deg)
    ground = thrown(plan)[..., :2] - np.array(plan.launchers[0].mouth_m[:2])
    height = thrown(plan)[..., 2]
    along = ground @ np.array([math.sin(turn), math.cos(turn)])
    aside = ground @ np.array([math.cos(turn), -math.sin(turn)])
    centre = envelope.centre_m[:, :2] - np.array(plan.launchers[0].mouth_m[:2])
    cuts = centre @ np.array([math.sin(turn), math.cos(turn)])
    middle = centre @ np.array([math.cos(turn), -math.sin(turn)])
    wide = np.abs(aside - np.interp(along, cuts, middle)) > np.interp(
        along, cuts, envelope.side_m + DRAWN_M
    )
    high = height > np.interp(along, cuts, envelope.centre_m[:, 2] + envelope.up_m + DRAWN_M)
    # A ball anywhere outside counts; one end of a line at three sigma lets 0.135 % out, and two
    # of them at a few independent places of the way a few times as much.
    assert np.mean(wide.any(axis=1)) < 0.02
    assert np.mean(high.any(axis=1)) < 0.02
    assert np.mean(wide) < 0.006
    assert np.mean(high) < 0.006


def straight(x_m: float = 0.0, side_m: float = 0.2, height_m: float = 1.0) -> Envelope:
    """A corridor straight down the middle, level, of even width."""
    y = np.linspace(-12.0, 12.0, 40)
    zeros = np.zeros_like(y)
    return Envelope(
        centre_m=np.stack([zeros + x_m, y, zeros + height_m], axis=-1),
        side_m=zeros + side_m,
        up_m=zeros + 0.1,
        down_m=zeros + 0.1,
        speed_mps=zeros + 20.0,
        time_s=np.linspace(0, 1, len(y)),
        bounce=30,
    )


def box(x_m: float, y_m: float = 0.0, half_m: float = 0.5) -> np.ndarray:
    return np.array(
        [
            (x_m - half_m, y_m - half_m),
            (x_m + half_m, y_m - half_m),
            (x_m + half_m, y_m + half_m),
            (x_m - half_m, y_m + half_m),
        ]
    )


RADIUS = 0.2 + BALL_RADIUS_M + DRAWN_M


@given(st.floats(-6, 6), st.floats(-6, 6))
def test_clearance_of_a_straight_corridor_is_what_a_ruler_says(x_m: float, y_m: float) -> None:
    gap = clearance_m(straight(), box(x_m, y_m), 2.0)
    if abs(x_m) - 0.5 > 0:
        assert gap == pytest.approx(abs(x_m) - 0.5 - RADIUS, abs=1e-9)
    else:
        assert gap < 0


def test_corridor_above_an_area_is_clear_of_it() -> None:
    assert clearance_m(straight(height_m=3.0), box(0.0), 2.0) == math.inf
    assert clearance_m(straight(height_m=3.0), box(0.0), math.inf) < 0


@given(st.floats(0.0, 8.0))
def test_distance_of_two_corridors_is_what_a_ruler_says(x_m: float) -> None:
    gap = apart_m(straight(), straight(x_m))
    assert gap <= x_m - 2 * RADIUS + 1e-9
    assert gap == pytest.approx(x_m - 2 * RADIUS, abs=1e-9)


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.floats(-8, 8), st.floats(-14, 14)), min_size=3, max_size=3, unique=True)
)
def test_clearance_agrees_with_polygons_put_together_by_shapely(corners) -> None:
    area = shapely.Polygon(corners)
    if not area.is_valid or area.area < 0.5:
        return
    envelope = Case(scene(), (PROFILE,)).envelopes[0]
    points = envelope.centre_m[:, :2]
    pieces = [
        shapely.LineString(points[i : i + 2]).buffer(
            max(envelope.radius_m[i], envelope.radius_m[i + 1]), quad_segs=64
        )
        for i in range(len(points) - 1)
    ]
    whole = shapely.union_all(pieces)
    gap = clearance_m(envelope, np.array(corners), math.inf)
    if gap > 0.01:
        assert whole.distance(area) >= gap - 0.01
    elif gap < -0.01:
        assert whole.intersects(area)


def test_unknown_surface_widens_the_corridor() -> None:
    known = Case(scene(), (PROFILE,)).envelopes[0]
    court = type(COURT)(kind="singles", surface=None, altitude_m=100.0, air_c=18.0)
    unknown = Case(scene(court=court), (PROFILE,)).envelopes[0]
    assert unknown.highest_m.max() >= known.highest_m.max() - 0.001
    assert unknown.centre_m[-1, 1] > known.centre_m[-1, 1]
