"""How many balls a battery still has in it, by what this run has drawn from it.

A straight line through the readings (ordinary least squares over the number of balls that had
left) says what one ball takes. Most batteries give way faster near their end than such a line says,
and the launcher stops by the lowest voltage under load, not by the mean: so the steepest slope that
the readings allow is reckoned with (the slope and twice its standard error), from the lower edge of
their scatter (common practice, no source). Nothing is said before they show a fall that is not
chance.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec

#: So many readings are kept: half an hour of one every five seconds. Design value.
_LAST: Final = 360
#: Before so many balls nothing is said. Design value.
_LEAST_BALLS: Final = 20
#: Twice the standard error: about 95 % of normally scattered values lie within.
_ERRORS: Final = 2.0
#: Above the highest of so many readings by so much: another battery, or a charger. Design values.
_RECENT: Final = 20
_RISEN_V: Final = 0.5


class Draw(msgspec.Struct, frozen=True):
    """Readings in their order: how many balls had left, and the voltage."""

    balls: tuple[int, ...] = ()
    volts: tuple[float, ...] = ()


def noted(draw: Draw, balls: int, volts: float) -> Draw:
    """The same with one more reading; it begins anew with another battery."""
    if draw.volts and volts > max(draw.volts[-_RECENT:]) + _RISEN_V:
        return Draw((balls,), (volts,))
    return Draw((*draw.balls, balls)[-_LAST:], (*draw.volts, volts)[-_LAST:])


def balls_left(draw: Draw, least_v: float) -> int | None:
    """Balls until the launcher stops itself at ``least_v``; None while that cannot be told."""
    n = len(draw.balls)
    if n < 3 or draw.balls[-1] - draw.balls[0] < _LEAST_BALLS:
        return None
    mean_x, mean_y = sum(draw.balls) / n, sum(draw.volts) / n
    pairs = list(zip(draw.balls, draw.volts, strict=True))
    spread = sum((x - mean_x) ** 2 for x in draw.balls)
    slope = sum((x - mean_x) * (y - mean_y) for x, y in pairs) / spread
    scatter_v = math.sqrt(sum((y - mean_y - slope * (x - mean_x)) ** 2 for x, y in pairs) / (n - 2))
    error = scatter_v / math.sqrt(spread)
    if slope + _ERRORS * error >= 0.0:
        return None  # it may as well not fall at all
    now_v = mean_y + slope * (draw.balls[-1] - mean_x) - _ERRORS * scatter_v
    return max(0, math.floor((now_v - least_v) / (_ERRORS * error - slope)))
