"""A launcher as it really is, sharing no code with the product: mouth, flight and what is seen.

Flights by scipy's DOP853 over a force law of its own: drag and lift coefficients that are constant
resp. saturate with spin (textbook forms, values from memory), another drag than any model here.
Slip falls with the wheels' speed, the head points off, the scatter is normal at the mouth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.integrate import solve_ivp

MASS_KG, RADIUS_M, AIR_KGPM3, GRAVITY = 0.0577, 0.0335, 1.2041, 9.80665


class Mouth(NamedTuple):
    speed_mps: float
    up_rad: float
    right_rad: float
    spin_radps: float


class Truth:
    """Two wheels, one above and one below the ball. Lengths in metres, angles in degrees."""

    wheel_m, gap_m, mouth_m = 0.2, 0.05, 1.05

    def __init__(self, wheel_m: float, gap_m: float, mouth_m: float) -> None:
        self.wheel_m, self.gap_m, self.mouth_m = wheel_m, gap_m, mouth_m
        self.slip, self.fading = 0.845, 0.004  # at 20 m/s, and lost with every m/s more
        self.lever = 0.95 * gap_m / 2
        self.up_deg, self.right_deg = 0.8, -1.1
        self.drag, self.lift = 0.60, 1.0
        self.scatter = (0.008, 0.2, 0.16, 45.0)  # share of speed, up, right, rpm

    def lands(
        self, drives: tuple[float, float], tilt_deg: float, pan_deg: float, stray: np.ndarray
    ) -> tuple[float, float, float]:
        """Along and right of below the mouth, and seconds; ``stray`` is 4 standard normals."""
        mouth = self.mouth(drives, tilt_deg, pan_deg, stray)
        far, seconds = self._flown(mouth.speed_mps, mouth.up_rad, mouth.spin_radps)
        return far * math.cos(mouth.right_rad), far * math.sin(mouth.right_rad), seconds

    def mouth(
        self, drives: Sequence[float], tilt_deg: float, pan_deg: float, stray: np.ndarray
    ) -> Mouth:
        """How a ball leaves; ``stray`` is 4 standard normals."""
        top, bottom = (math.pi * self.wheel_m * rpm / 60 for rpm in drives)
        mean = (top + bottom) / 2
        slip = self.slip - self.fading * (mean - 20.0)
        speed = slip * mean * (1 + self.scatter[0] * stray[0])
        spin = slip * (top - bottom) / (2 * self.lever) + self.scatter[3] * stray[3] * math.pi / 30
        up = math.radians(tilt_deg + self.up_deg + self.scatter[1] * stray[1])
        turn = math.radians(pan_deg + self.right_deg + self.scatter[2] * stray[2])
        return Mouth(speed, up, turn, spin)

    def _flown(self, speed: float, up: float, spin: float) -> tuple[float, float]:
        half = 0.5 * AIR_KGPM3 * math.pi * RADIUS_M**2 / MASS_KG

        def force(_: float, state: np.ndarray) -> list[float]:
            _, _, along, rise = state
            pace = math.hypot(along, rise)
            share = RADIUS_M * abs(spin) / max(pace, 0.1)
            lift = math.copysign(self.lift / (2 + 1 / max(share, 1e-9)), spin)
            return [
                along,
                rise,
                half * pace * (-self.drag * along + lift * rise),
                half * pace * (-self.drag * rise - lift * along) - GRAVITY,
            ]

        def ground(_: float, state: np.ndarray) -> float:
            return float(state[1] - RADIUS_M)

        ground.terminal, ground.direction = True, -1  # type: ignore[attr-defined]
        start = [0.0, self.mouth_m, speed * math.cos(up), speed * math.sin(up)]
        done = solve_ivp(force, (0, 9), start, "DOP853", events=ground, rtol=1e-8, atol=1e-8)
        return float(done.y_events[0][0][0]), float(done.t_events[0][0])
