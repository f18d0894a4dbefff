"""The bounce gives a court's rating back, and obeys mechanics."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from feedscript.flight.ball import BALLS, DEFAULT_BALL, DROP_CM, Ball, ball_named
from feedscript.flight.bounce import SURFACES, Surface, bounce, rebound
from feedscript.flight.contact import at_player
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, fly
from tests.flight.itf_pace import category, pace_found


@given(st.floats(5, 70), st.floats(0.65, 0.9))
def test_the_itf_test_gives_the_rating_back(rating: float, restitution: float) -> None:
    """Asked for within 0.5; the surface is solved for, so it is exact, gripping or not."""
    assert pace_found(Surface.rated(rating, restitution)) == pytest.approx(rating, abs=0.01)


@pytest.mark.parametrize("name", SURFACES)
def test_a_named_surface_is_in_the_category_that_it_names(name: str) -> None:
    surface = SURFACES[name]
    assert surface.source.startswith(f"category {category(pace_found(surface))},")


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


def second_bounce(flights: Flights, conditions: Conditions, surface: Surface) -> Flights:
    """The flight from the first bounce to the second."""
    return fly(rebound(flights, conditions, surface).release, conditions)


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


def _fallen_mps(ball: Ball) -> float:
    """The speed after a drop from 254 cm, by another integrator; drag as Cross & Lindsey 2014."""
    grip = 0.5 * 1.2 * 0.507 * ball.area_m2 / ball.mass_kg

    def rates(_: float, state: np.ndarray) -> list[float]:
        return [state[1], -9.80665 - grip * abs(state[1]) * state[1]]

    def ground(_: float, state: np.ndarray) -> float:
        return float(state[0])

    ground.terminal = True  # type: ignore[attr-defined]
    fall = solve_ivp(rates, (0, 2), [DROP_CM / 100, 0.0], events=ground, rtol=1e-10, atol=1e-12)
    return float(-fall.y_events[0][0][1])


def _rise_cm(speed_mps: float, ball: Ball) -> float:
    grip = 0.5 * 1.2 * 0.507 * ball.area_m2 / ball.mass_kg

    def rates(_: float, state: np.ndarray) -> list[float]:
        return [state[1], -9.80665 - grip * abs(state[1]) * state[1]]

    def top(_: float, state: np.ndarray) -> float:
        return float(state[1])

    top.terminal = True  # type: ignore[attr-defined]
    rise = solve_ivp(rates, (0, 2), [0.0, speed_mps], events=top, rtol=1e-10, atol=1e-12)
    return 100 * float(rise.y_events[0][0][0])


@pytest.mark.parametrize("ball", BALLS.values(), ids=lambda ball: ball.name)
@pytest.mark.parametrize("surface", SURFACES.values(), ids=lambda surface: surface.name)
def test_a_dropped_ball_obeys_its_own_rule(ball: Ball, surface: Surface) -> None:
    """ITF Rules, Appendix I: dropped from 254 cm onto a rigid floor it rises within the band.

    A hard court is such a floor; no other surface throws a ball higher than a rigid one.
    """
    falling = np.array([[0.0], [0.0], [-_fallen_mps(ball)]])
    after = bounce(falling, np.zeros((3, 1)), ball, surface)[0]
    rise_cm = _rise_cm(float(after[2, 0]), ball)
    if surface.name == "hard":
        assert ball.rebound_cm.least < rise_cm < ball.rebound_cm.most
    assert rise_cm < ball.rebound_cm.most


def _restitution(speed_mps: float, angle_deg: float, name: str = "hard") -> float:
    a = np.radians(angle_deg)
    velocity = np.array([[0.0], [speed_mps * np.cos(a)], [-speed_mps * np.sin(a)]])
    after = bounce(velocity, np.zeros((3, 1)), DEFAULT_BALL, SURFACES[name])[0]
    return float(after[2, 0] / -velocity[2, 0])


@pytest.mark.parametrize(("speed", "measured"), [(6.9, 0.775), (20.0, 0.62)])
def test_a_hard_upright_impact_loses_more(speed: float, measured: float) -> None:
    """Haake, Carre & Goodwill 2003, J. Sports Sci. 21:839 (the two figures from memory)."""
    assert _restitution(speed, 90) == pytest.approx(measured, abs=0.02)


@given(st.floats(1, 40), st.floats(5, 89), st.sampled_from(sorted(SURFACES)))
def test_harder_and_steeper_impacts_keep_less(speed: float, angle: float, name: str) -> None:
    assert _restitution(speed * 1.1, angle, name) <= _restitution(speed, angle, name) + 1e-12
    down = speed * np.sin(np.radians(angle))
    assert _restitution(down, 90, name) <= _restitution(speed, angle, name) + 1e-12
