"""Compressed air behind a ball in a barrel: pressure or opening from speed, and back.

Where the tank is filled for each ball, its air (volume V, absolute pressure p) expands
adiabatically (exponent 1.4, dry air) by the swept volume A L and works against the air outside; the
ball gets ``efficiency`` of that work:
m v^2 / 2 = e (p V (1 - (V / (V + A L))^0.4) / 0.4 - p_outside A L). Standard outside pressure.

Where a valve lets through what each ball needs of a tank of one pressure, the speed follows from
valve, pressure, bore and the ball's fit, so it is measured and not worked out: a straight line from
each measured pair to the next. The first and the last line go on beyond the table: a wish out there
names an opening, which rules refuse.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence

from feedscript.launcher.profile.drives import Air, Range, Valve

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


def openings_ms(drive: Valve) -> Range:
    """The openings that were measured."""
    return Range(drive.table[0][0], drive.table[-1][0])


def opening_ms(drive: Valve, speed_mps: float) -> float:
    """How long the valve is open for a ball speed."""
    openings, speeds = zip(*drive.table, strict=True)
    return _on_lines(speeds, openings, speed_mps / drive.speed_factor)


def valve_mps(drive: Valve, opening: float) -> float:
    """Ball speed from the opening in ms."""
    openings, speeds = zip(*drive.table, strict=True)
    return max(0.0, _on_lines(openings, speeds, opening) * drive.speed_factor)


def _on_lines(knots: Sequence[float], values: Sequence[float], at: float) -> float:
    """The value at a place among rising knots; the end lines go on."""
    k = min(max(bisect_left(knots, at), 1), len(knots) - 1)
    share = (at - knots[k - 1]) / (knots[k] - knots[k - 1])
    return values[k - 1] + share * (values[k] - values[k - 1])
