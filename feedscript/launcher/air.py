"""Compressed air behind a ball in a barrel: pressure from speed, and back.

The tank's air (volume V, absolute pressure p) expands adiabatically (exponent 1.4, dry air) by the
swept volume A L and works against the air outside; the ball gets ``efficiency`` of that work:
m v^2 / 2 = e (p V (1 - (V / (V + A L))^0.4) / 0.4 - p_outside A L). Standard outside pressure.
"""

from __future__ import annotations

import math

from feedscript.launcher.profile.drives import Air

OUTSIDE_PA = 101325.0
_GAMMA = 1.4


def _volumes_m3(drive: Air) -> tuple[float, float]:
    return drive.tank_litres / 1000, math.pi * (drive.bore_m / 2) ** 2 * drive.barrel_m


def _work_per_pa(drive: Air) -> float:
    tank, swept = _volumes_m3(drive)
    return tank / (_GAMMA - 1) * (1 - math.pow(tank / (tank + swept), _GAMMA - 1))


def pressure_hpa(drive: Air, speed_mps: float) -> float:
    """The tank's pressure above outside for a ball speed."""
    _, swept = _volumes_m3(drive)
    energy_j = drive.ball_mass_g / 1000 * speed_mps**2 / 2
    absolute = (energy_j / drive.efficiency + OUTSIDE_PA * swept) / _work_per_pa(drive)
    return (absolute - OUTSIDE_PA) / 100


def ball_mps(drive: Air, pressure: float) -> float:
    """Ball speed from the tank's pressure above outside (hPa); zero where the ball stays put."""
    _, swept = _volumes_m3(drive)
    absolute = OUTSIDE_PA + pressure * 100
    work_j = absolute * _work_per_pa(drive) - OUTSIDE_PA * swept
    return math.sqrt(max(0.0, 2 * drive.efficiency * work_j / (drive.ball_mass_g / 1000)))


def drop_hpa(drive: Air, pressure: float) -> float:
    """By how much one shot lowers the tank's pressure."""
    tank, swept = _volumes_m3(drive)
    absolute = OUTSIDE_PA + pressure * 100
    return absolute * (1 - math.pow(tank / (tank + swept), _GAMMA)) / 100
