"""Flights against another integrator, on equations written anew here.

Nothing of the project's own mathematics is used: constants, spin axes and forces are stated again
from their sources (Stepanek 1988; ISO 2533; ITF mid-specification), and SciPy's DOP853 with its own
event location integrates them.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from feedscript.flight.air import air_at
from feedscript.flight.motion.flights import Conditions, Launches, fly

MASS, RADIUS, G = 0.0577, 0.0335, 9.80665


def standard_density(altitude: float) -> float:
    h = 6356766.0 * altitude / (6356766.0 + altitude)
    kelvin = 288.15 - 0.0065 * h
    return 101325.0 * (kelvin / 288.15) ** (G / (287.05287 * 0.0065)) / (287.05287 * kelvin)


def slow_motion(
    spin: np.ndarray, rho: float, wind: np.ndarray
) -> Callable[[float, np.ndarray], np.ndarray]:
    """The slope of place (3) and velocity (3); ``spin`` in rad/s as a world vector."""
    half = 0.5 * rho * np.pi * RADIUS**2 / MASS
    rate = np.linalg.norm(spin)

    def motion(_t: float, y: np.ndarray) -> np.ndarray:
        u = y[3:] - wind
        v = np.linalg.norm(u)
        push = np.array([0.0, 0.0, -G])
        drag = 0.508
        if rate > 0:
            vs = RADIUS * rate
            drag += 1 / (22.503 + 4.196 * (v / vs) ** 2.5) ** 0.4
            lift = 1 / (2.022 + 0.981 * v / vs)
            push = push + half * lift * v * np.cross(spin / rate, u)
        return np.concatenate([y[3:], push - half * drag * v * u])

    return motion


def slow_flight(
    speed: float, elevation: float, azimuth: float, spin: np.ndarray, rho: float, wind: np.ndarray
) -> np.ndarray:
    """Place (3), time and velocity (3) at the bounce; ``spin`` in rad/s as a world vector."""

    def ground(_t: float, y: np.ndarray) -> float:
        return float(y[2] - RADIUS)

    ground.terminal, ground.direction = True, -1  # type: ignore[attr-defined]
    e, a = np.radians(elevation), np.radians(azimuth)
    throw = np.array([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])
    start = np.concatenate([[0, 0, 1.0], speed * throw])
    motion = slow_motion(spin, rho, wind)
    found = solve_ivp(
        motion, (0, 30), start, method="DOP853", events=ground, rtol=1e-9, atol=1e-10, max_step=0.1
    )
    end = found.y_events[0][0]
    return np.concatenate([end[:3], [found.t_events[0][0]], end[3:]])


def draw(count: int, seed: int) -> dict[str, np.ndarray]:
    """Inputs over the whole promised range; the spin axis points anywhere."""
    rng = np.random.default_rng(seed)
    axis = rng.normal(size=(count, 3))
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    return {
        "speed": rng.uniform(8, 45, count),
        "elevation": rng.uniform(-5, 60, count),
        "azimuth": rng.uniform(-30, 30, count),
        "spin": axis * (rng.uniform(0, 4000, count) * 2 * np.pi / 60)[:, None],
        "altitude": rng.uniform(0, 3000, count),
    }


def words_for(
    spin: np.ndarray, elevation: np.ndarray, azimuth: np.ndarray
) -> tuple[np.ndarray, ...]:
    """Top, side and gyro parts (rpm) that make up these world spins."""
    parts = []
    for w, e, a in zip(spin, np.radians(elevation), np.radians(azimuth), strict=True):
        top = [-np.cos(a), np.sin(a), 0.0]
        side = [0.0, 0.0, -1.0]
        throw = [np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)]
        parts.append(np.linalg.solve(np.array([top, side, throw]).T, w) * 60 / (2 * np.pi))
    return tuple(np.array(parts).T)


def compare(count: int, seed: int, wind: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    """Distance between our landing and the slow one's, in metres, for each of ``count`` flights."""
    drawn = draw(count, seed)
    top, side, gyro = words_for(drawn["spin"], drawn["elevation"], drawn["azimuth"])
    gaps = np.empty(count)
    for i in range(count):
        altitude = float(drawn["altitude"][i])
        launches = Launches.of(
            drawn["speed"][i],
            drawn["elevation"][i],
            drawn["azimuth"][i],
            top_rpm=top[i],
            side_rpm=side[i],
            gyro_rpm=gyro[i],
        )
        flights = fly(launches, Conditions(air=air_at(altitude, wind_mps=wind)))
        slow = slow_flight(
            float(drawn["speed"][i]),
            float(drawn["elevation"][i]),
            float(drawn["azimuth"][i]),
            drawn["spin"][i],
            standard_density(altitude),
            np.array([*wind, 0.0]),
        )
        gaps[i] = np.hypot(flights.landing_x_m[0] - slow[0], flights.landing_y_m[0] - slow[1])
        assert flights.flight_s[0] == pytest.approx(slow[3], abs=5e-5)
        assert flights.bounce_velocity_mps[:, 0] == pytest.approx(slow[4:], abs=2e-3)
    return gaps


def test_two_hundred_random_flights_land_within_half_a_millimetre() -> None:
    """Asked for: 5 mm, and 2 mm over the whole range. Stated by us: 0.5 mm."""
    assert compare(200, seed=11).max() < 0.5e-3


def test_flights_in_wind_land_within_half_a_millimetre() -> None:
    assert compare(40, seed=12, wind=(3.0, -5.0)).max() < 0.5e-3


@pytest.mark.long
@pytest.mark.timeout(1200)
def test_five_thousand_random_flights_land_within_half_a_millimetre() -> None:
    assert compare(5000, seed=13).max() < 0.5e-3
