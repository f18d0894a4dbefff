"""Flights against closed forms, published tables and another integrator."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.flight.air import Air
from feedscript.flight.ball import DEFAULT_BALL
from feedscript.flight.models import model_named
from feedscript.flight.motion.flights import Conditions, Launches, fly
from tests.flight.measured_ball import measured_ball


def test_vacuum_is_the_parabola() -> None:
    rng = np.random.default_rng(3)
    count = 300
    speed, up = rng.uniform(8, 45, count), rng.uniform(-5, 60, count)
    conditions = Conditions(model=model_named("vacuum"))
    flights = fly(Launches.of(speed, up, z_m=1.0, top_rpm=2000), conditions)
    g, drop = 9.80665, 1.0 - DEFAULT_BALL.radius_m
    vz, vy = speed * np.sin(np.radians(up)), speed * np.cos(np.radians(up))
    seconds = (vz + np.sqrt(vz**2 + 2 * g * drop)) / g
    assert flights.flight_s == pytest.approx(seconds, abs=1e-8)
    assert flights.landing_y_m == pytest.approx(vy * seconds, abs=1e-6)
    assert flights.apex_m == pytest.approx(1.0 + np.maximum(vz, 0) ** 2 / (2 * g), abs=1e-6)


#: Reference trajectories integrated independently (RK45, rtol 1e-11) from Stepanek's formulas:
#: spin words, then time, carry, drift, speed at bounce, apex, apex time, height at 11.885 m.
REFERENCE = [
    ("top 1500", 0.7794, 13.0623, 0.0, 15.1734, 1.4569, 0.2702, 0.4406),
    ("back 1500", 1.0833, 17.1683, 0.0, 13.8725, 1.7044, 0.4144, 1.3879),
    ("side 1500", 0.9065, 14.8123, 0.7571, 14.5902, 1.5562, 0.3287, 0.9137),
]


@pytest.mark.parametrize("row", REFERENCE, ids=lambda row: row[0])
def test_reference_trajectories(row: tuple[str, *tuple[float, ...]]) -> None:
    spin, seconds, carry, drift, speed, apex, apex_s, net = row
    word, rpm = spin.split()
    top = {"top": 1.0, "back": -1.0}.get(word, 0.0) * float(rpm)
    side = float(rpm) if word == "side" else 0.0
    conditions = Conditions(ball=measured_ball(0.0577, 0.0667), air=Air(1.2))
    launches = Launches.of(20, 10, top_rpm=top, side_rpm=side, y_m=-11.885)
    flights = fly(launches, conditions)
    ours = (
        flights.flight_s[0],
        flights.landing_y_m[0] + 11.885,
        flights.landing_x_m[0],
        flights.speed_at_bounce_mps[0],
        flights.apex_m[0],
        flights.apex_s[0],
        flights.net_height_m[0],
    )
    assert ours == pytest.approx((seconds, carry, drift, speed, apex, apex_s, net), abs=6e-5)
