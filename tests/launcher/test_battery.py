"""How many balls a battery has left, told from what the run has drawn from it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.launcher.battery import Draw, balls_left, noted

LEAST_V = 11.0


def read(balls: int, full_v: float, per_ball_v: float, scatter_v: float, seed: int) -> Draw:
    """One reading a ball of a battery that falls evenly."""
    chance = np.random.default_rng(seed)
    draw = Draw()
    for ball in range(balls):
        draw = noted(draw, ball, full_v - per_ball_v * ball + scatter_v * chance.standard_normal())
    return draw


@given(st.integers(0, 10_000), st.floats(0.001, 0.02), st.integers(60, 300))
def test_it_seldom_promises_more_than_there_is(seed: int, per_ball_v: float, balls: int) -> None:
    """An evenly falling battery, read with a scatter of 50 mV: never past the truth by a tenth."""
    full_v = LEAST_V + per_ball_v * (balls + 200)
    told = balls_left(read(balls, full_v, per_ball_v, 0.05, seed), LEAST_V)
    truth = 200 + 1
    assert told is None or told <= truth * 1.1


def test_it_comes_near_the_truth_when_the_readings_are_good() -> None:
    told = balls_left(read(100, 12.6, 0.004, 0.01, seed=1), LEAST_V)
    assert told is not None
    truth = (12.6 - 0.004 * 99 - LEAST_V) / 0.004
    assert truth * 0.85 <= told <= truth


def test_nothing_is_said_of_chance() -> None:
    """A mains supply wobbles, and does not run down."""
    said = [balls_left(read(120, 12.0, 0.0, 0.05, seed), LEAST_V) for seed in range(200)]
    # Twice the standard error: a slope that is none passes for a fall in one case of forty.
    assert sum(one is not None for one in said) <= 12


def test_nothing_is_said_before_twenty_balls() -> None:
    assert balls_left(read(20, 12.6, 0.01, 0.0, seed=1), LEAST_V) is None
    assert balls_left(read(21, 12.6, 0.01, 0.0, seed=1), LEAST_V) is not None


def test_another_battery_begins_anew() -> None:
    draw = read(100, 11.6, 0.005, 0.0, seed=1)
    assert noted(draw, 100, 12.6) == Draw((100,), (12.6,))


def test_below_the_least_there_is_none() -> None:
    assert balls_left(read(100, 11.2, 0.01, 0.0, seed=1), LEAST_V) == 0


@pytest.mark.parametrize("readings", [0, 1, 2, 500])
def test_readings_while_nothing_leaves_say_nothing(readings: int) -> None:
    draw = Draw()
    for _ in range(readings):
        draw = noted(draw, 7, 12.0)
    assert balls_left(draw, LEAST_V) is None
