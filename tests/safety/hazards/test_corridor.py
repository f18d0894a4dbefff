"""Corridors against balls that were thrown for it, and distances against hand-made areas."""

from __future__ import annotations

import math
from functools import cache
from itertools import pairwise

import msgspec
import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from feedscript.flight.bounce import SURFACES, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import fly
from feedscript.flight.motion.tracks import track
from feedscript.launcher.scatter import mouth_samples
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.model import Plan
from feedscript.plan.scene import Court
from feedscript.safety.analysis.areas import outside_m
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.hazards.envelope import (
    BALL_RADIUS_M,
    DRAWN_M,
    Envelope,
)
from feedscript.safety.hazards.gaps import NEAR_M, apart_m, clearance_m, height_at_m
from feedscript.safety.hazards.strays import throw_of_feed
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


WINDY = msgspec.structs.replace(COURT, wind_mps=(5.0, -3.0))


@pytest.mark.parametrize(
    ("wish", "court"),
    [
        (Wish(), COURT),
        (Wish(land_m=(-3.0, 10.5), speed_mps=28.0, top_rpm=1800.0), COURT),
        (Wish(land_m=(2.0, 7.0), speed_mps=19.0, top_rpm=-700.0), COURT),
        # High, with backspin, into the wind: these come back after their bounce.
        (Wish(land_m=(1.5, 6.0), speed_mps=18.5, top_rpm=-2500.0, high=True), WINDY),
    ],
)
def test_balls_pass_a_plane_past_the_corridor_as_often_as_three_sigma_say(
    wish: Wish, court: Court
) -> None:
    plan = scene(wish, court=court)
    envelope = PlanFacts(plan, (PROFILE,)).envelopes[0]
    random = np.random.default_rng(9)
    normals = random.normal(size=(100, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    furthest = envelope.furthest_m(normals).max(axis=0) - BALL_RADIUS_M
    ways = thrown(plan)
    past = [
        np.mean((ways @ normal).max(axis=1) > far)
        for normal, far in zip(normals, furthest, strict=True)
    ]
    share = norm.sf(3.0)
    assert max(past) <= 1.2 * share + 4 * math.sqrt(share / BALLS)
    assert np.mean(past) <= share


def test_a_ball_that_drifts_back_is_followed_back() -> None:
    wish = Wish(land_m=(1.5, 6.0), speed_mps=18.5, top_rpm=-2500.0, high=True)
    plan = scene(wish, court=WINDY)
    ends = thrown(plan)[:, -1]
    assert np.median(ends[:, 1]) < plan.feeds[0].landing_m[1] - 0.5
    middle = tuple(np.median(ends[:, :2], axis=0))
    envelope = PlanFacts(plan, (PROFILE,)).envelopes[0]
    assert clearance_m(envelope, box(*middle, half_m=0.1), 2.0) < 0


def straight(x_m: float = 0.0, side_m: float = 0.2, height_m: float = 1.0) -> Envelope:
    """A corridor straight down the middle, level, of even width."""
    y = np.linspace(-12.0, 12.0, 40)
    zeros = np.zeros_like(y)
    half = np.tile(np.diag([side_m, 0.0, 0.1]), (len(y), 1, 1))
    return Envelope(
        centre_m=np.stack([zeros + x_m, y, zeros + height_m], axis=-1),
        single_m=np.concatenate([half, -half], axis=1),
        joint_m=np.zeros((len(y), 0, 3)),
        other_m=np.zeros((len(y), 0, 3)),
    )


def falling(slope: float, side_m: float = 0.2) -> Envelope:
    """As :func:`straight`, but down from 6 m to 0 m over so many metres a metre of height."""
    y = np.linspace(-6.0 * slope, 0.0, 40)
    zeros = np.zeros_like(y)
    half = np.tile(np.diag([side_m, 0.0, 0.0]), (len(y), 1, 1))
    return Envelope(
        centre_m=np.stack([zeros, y, -y / slope], axis=-1),
        single_m=np.concatenate([half, -half], axis=1),
        joint_m=np.zeros((len(y), 0, 3)),
        other_m=np.zeros((len(y), 0, 3)),
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


@given(st.floats(0.3, 4.0), st.floats(0.5, 3.0), st.floats(0.05, 0.9))
def test_a_falling_ball_is_held_against_an_area_only_where_it_is_low_enough(
    slope: float, height_m: float, gap_m: float
) -> None:
    """The ball's edge comes down to ``height_m`` a known way before the area or inside it."""
    radius = BALL_RADIUS_M + DRAWN_M
    edge_y = -height_m * slope - radius * math.hypot(1.0, slope)
    before = np.array([(-2.0, edge_y - 1.5), (2.0, edge_y - 1.5), (2.0, edge_y), (-2.0, edge_y)])
    clear = clearance_m(falling(slope), before - np.array([0.0, gap_m]), height_m)
    assert clear == pytest.approx(gap_m, abs=0.02 * slope + 0.005)
    assert clearance_m(falling(slope), before + np.array([0.0, gap_m]), height_m) < 0


@given(st.floats(-4.0, 4.0), st.floats(0.5, 3.0))
def test_height_over_a_fence_is_what_a_ruler_says(y_m: float, slope: float) -> None:
    radius = BALL_RADIUS_M + DRAWN_M
    top = height_at_m(falling(slope), y_m - 4.0)
    ruler = max(4.0 - y_m, 0.0) / slope + radius * math.hypot(1.0, 1.0 / slope)
    if -6.0 * slope + 0.2 < y_m - 4.0 < -0.2:
        assert top == pytest.approx(ruler, abs=0.01)
    elif y_m - 4.0 > radius:
        assert top == 0.0


def test_what_is_not_a_number_is_never_clear() -> None:
    lost = straight()
    lost.centre_m[20] = np.nan
    for gap in (clearance_m(lost, box(8.0), 2.0), apart_m(lost, straight(8.0))):
        assert math.isnan(gap)
    assert math.isnan(height_at_m(lost, 30.0))


@settings(max_examples=40)
@example([(0.0, 0.0), (0.25, 0.0), (-0.0625, -11.0)])  # a sliver just beside the mouth
@given(
    st.lists(st.tuples(st.floats(-8, 8), st.floats(-14, 14)), min_size=3, max_size=3, unique=True)
)
def test_clearance_agrees_with_outlines_put_together_by_shapely(corners) -> None:
    area = shapely.Polygon(corners)
    if not area.is_valid or area.area < 0.5:
        return
    gap = clearance_m(_real(), np.array(corners), math.inf)
    distance = _footprint().distance(area)
    if gap > NEAR_M:
        assert distance >= gap - 0.01
    elif gap > 0:
        assert distance == pytest.approx(gap, abs=0.015)
    elif gap < -0.01:
        assert distance == 0


def _real() -> Envelope:
    return PlanFacts(scene(), (PROFILE,)).envelopes[0]


@cache
def _footprint() -> shapely.Geometry:
    """The corridor seen from above: hulls of what many lines at each of two cuts leave over."""
    envelope, angles = _real(), np.linspace(0, 2 * np.pi, 720, endpoint=False)
    normals = np.stack([np.cos(angles), np.sin(angles), np.zeros_like(angles)], axis=-1)
    reach = envelope.furthest_m(normals)
    turn = np.roll(np.arange(720), -1)
    lines = np.stack([normals[:, :2], normals[turn, :2]], axis=1)
    corners = [np.linalg.solve(lines, np.stack([r, r[turn]], axis=-1)[..., None]) for r in reach]
    cuts = [shapely.MultiPoint(one[..., 0]).convex_hull for one in corners]
    hulls = [shapely.union(a, b).convex_hull for a, b in pairwise(cuts)]
    return shapely.union_all(hulls)


def test_unknown_surface_widens_the_corridor() -> None:
    known = PlanFacts(scene(), (PROFILE,)).envelopes[0]
    court = type(COURT)(kind="singles", surface=None, altitude_m=100.0, air_c=18.0)
    unknown = PlanFacts(scene(court=court), (PROFILE,)).envelopes[0]
    assert unknown.highest_m.max() >= known.highest_m.max() - 0.001
    assert unknown.centre_m[-1, 1] > known.centre_m[-1, 1]


@given(
    st.tuples(*[st.floats(-10, 10)] * 4).filter(lambda b: b[0] + 0.1 < b[1] and b[2] + 0.1 < b[3]),
    st.tuples(st.floats(-12, 12), st.floats(-12, 12)),
    st.booleans(),
)
def test_a_place_is_inside_an_area_where_shapely_says_so(
    sides: tuple[float, ...], place: tuple[float, float], turned: bool
) -> None:
    west, east, south, north = sides
    corners = ((west, south), (east, south), (east, north), (west, north))
    area, point = shapely.Polygon(corners), shapely.Point(place)
    out = outside_m(corners[::-1] if turned else corners, place)
    if out < 0:
        assert -out == pytest.approx(area.exterior.distance(point), abs=1e-9)
        assert area.contains(point)
    else:
        assert not area.contains(point)
        assert 0.7 * area.distance(point) - 1e-9 <= out <= area.distance(point) + 1e-9
