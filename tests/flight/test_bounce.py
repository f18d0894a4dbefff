"""The bounce gives a court's rating back, and obeys mechanics."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.flight.ball import DEFAULT_BALL, ball_named
from feedscript.flight.bounce import SURFACES, Surface, bounce, pace_of
from feedscript.flight.conditions import Conditions
from feedscript.flight.contact import at_player, second_bounce
from feedscript.flight.launches import Launches
from feedscript.flight.motion import fly


@given(st.floats(5, 70), st.floats(0.65, 0.9))
def test_the_itf_test_gives_the_rating_back(rating: float, restitution: float) -> None:
    """Asked for within 0.5; the surface is solved for, so it is exact, gripping or not."""
    assert pace_of(Surface.rated(rating, restitution)) == pytest.approx(rating, abs=0.01)


@pytest.mark.parametrize(("rating", "restitution"), [(-80, 0.8), (150, 0.8), (40, 0.1)])
def test_a_surface_that_cannot_be_is_refused(rating: float, restitution: float) -> None:
    with pytest.raises(ValueError, match=r"between|needs|would"):
        Surface.rated(rating, restitution)


@given(
    st.floats(5, 45),
    st.floats(5, 85),
    st.floats(-400, 400),
    st.floats(-400, 400),
    st.sampled_from(sorted(SURFACES)),
)
def test_mechanics_of_one_bounce(
    speed: float, angle: float, top: float, across: float, name: str
) -> None:
    """No energy is made; friction turns no more than it takes; spin about its arm is kept.

    The angular momentum about the contact point cannot change: v / R - alpha w is the same before
    and after, for each horizontal direction.
    """
    a, ball = np.radians(angle), DEFAULT_BALL
    velocity = np.array([[0.3 * speed], [speed * np.cos(a)], [-speed * np.sin(a)]])
    spin = np.array([[-top], [across], [30.0]])
    after, spun, _ = bounce(velocity, spin, ball, SURFACES[name])
    alpha, radius = ball.inertia_factor, ball.radius_m

    def energy(v: np.ndarray, w: np.ndarray) -> float:
        return float(np.sum(v**2) + alpha * radius**2 * np.sum(w**2))

    assert energy(after, spun) <= energy(velocity, spin) + 1e-9
    arm = alpha * radius
    assert after[1] - arm * spun[0] == pytest.approx(velocity[1] - arm * spin[0])
    assert after[0] + arm * spun[1] == pytest.approx(velocity[0] + arm * spin[1])
    assert spun[2] == spin[2]


def test_slow_courts_bounce_slower_and_steeper_than_fast_ones() -> None:
    """Carre, Johnson & Haake 2002: clay is slow and steep, carpet fast and shallow."""
    velocity, spin = np.array([[0.0], [25.0], [-6.5]]), np.zeros((3, 1))
    along, angles = [], []
    for name in ("clay", "hard", "carpet", "grass"):
        after = bounce(velocity, spin, DEFAULT_BALL, SURFACES[name])[0]
        along.append(after[1, 0])
        angles.append(np.arctan2(after[2, 0], after[1, 0]))
    assert along == sorted(along)
    assert angles == sorted(angles, reverse=True)
    assert along[0] / 25 < 0.70
    assert along[-1] / 25 > 0.70


def test_topspin_kicks_and_stage_balls_stay_lower() -> None:
    conditions, hard = Conditions(), SURFACES["hard"]
    flights = fly(Launches.of(22, 12, top_rpm=[0, 2500], y_m=-12), conditions)
    second = second_bounce(flights, conditions, hard)
    assert second.landed.all()
    kept = second.speed_at_bounce_mps / flights.speed_at_bounce_mps
    assert kept[1] > kept[0]
    red = Conditions(ball=ball_named("stage red"))
    low = second_bounce(fly(Launches.of(12, 15, y_m=-6), red), red, hard)
    full = second_bounce(fly(Launches.of(12, 15, y_m=-6), conditions), conditions, hard)
    assert low.apex_m[0] < full.apex_m[0]


def test_a_player_near_the_net_volleys_and_one_behind_the_bounce_does_not() -> None:
    launches = Launches.of(25, 6, y_m=-12)
    near = at_player(launches, 2.0, Conditions(), SURFACES["hard"])
    far = at_player(launches, 8.0, Conditions(), SURFACES["hard"])
    assert near.volleyed[0]
    assert not far.volleyed[0]
    assert near.time_s[0] < far.time_s[0]
    assert far.place_m[1, 0] == pytest.approx(8.0, abs=1e-6)
