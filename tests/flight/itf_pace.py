"""The ITF's test of a court's pace, carried out on a surface of ours.

ITF, "Court pace", CS 01/02 (ITF technical booklet 2015, p. 40): a ball without spin at 30 m/s and
16 degrees; 100 (1 - mu) + 150 (0.81 - e) at 23 C. Categories: ITF Rules of Tennis, Appendix I.
"""

from __future__ import annotations

import math

import numpy as np

from feedscript.flight.ball import DEFAULT_BALL
from feedscript.flight.bounce import Surface, bounce


def pace_found(surface: Surface) -> float:
    """The rating that the test finds from the velocities before and after the bounce."""
    along, down = 30 * math.cos(math.radians(16)), 30 * math.sin(math.radians(16))
    before = np.array([[0.0], [along], [-down]])
    after, _, _ = bounce(before, np.zeros((3, 1)), DEFAULT_BALL, surface)
    restitution = float(after[2, 0]) / down
    friction = (along - float(after[1, 0])) / (down * (1 + restitution))
    return 100 * (1 - friction) + 150 * (0.81 - restitution)


def category(rating: float) -> int:
    """1 slow (0 to 29), 2 (30 to 34), 3 (35 to 39), 4 (40 to 44), 5 fast (45 up)."""
    return 1 + sum(round(rating) >= edge for edge in (30, 35, 40, 45))
