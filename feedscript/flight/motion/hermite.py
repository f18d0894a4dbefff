"""The quintic through both ends of a step, and where it, or its slope, meets a value.

Good to a few millimetres over a long step: enough to know how long a step to the event must be.
"""

from __future__ import annotations

import numpy as np

from feedscript.flight.models import Array

_ROUNDS = 6


def quintic(start: tuple[Array, Array, Array], end: tuple[Array, Array, Array], h: Array) -> Array:
    """Coefficients (6, n) over s in [0, 1] from value, slope and second derivative in time."""
    p0, v0, a0 = start
    p1, v1, a1 = end
    first, second = v0 * h, a0 * h * h / 2
    way = p1 - p0 - first - second
    slope = v1 * h - first - 2 * second
    bend = a1 * h * h - 2 * second
    return np.stack(
        [
            p0,
            first,
            second,
            10 * way - 4 * slope + bend / 2,
            -15 * way + 7 * slope - bend,
            6 * way - 3 * slope + bend / 2,
        ]
    )


def slope_of(poly: Array) -> Array:
    """Coefficients of the derivative in s."""
    powers = np.arange(1, len(poly)).reshape(-1, *[1] * (poly.ndim - 1))
    slope: Array = poly[1:] * powers
    return slope


def value_at(poly: Array, s: Array) -> Array:
    """The polynomial at s, one s a column."""
    result: Array = poly[-1] * s
    for row in poly[-2:0:-1]:
        result += row
        result *= s
    result += poly[0]
    return result


def root_between(poly: Array, low: Array, high: Array) -> Array:
    """Where each polynomial changes sign between ``low`` and ``high``.

    Newton's steps, kept inside a shrinking bracket, so that none can escape.
    """
    rows, count = poly.shape
    ends = value_at(poly[:, None], np.stack([low, high]))
    rising = ends[1] > ends[0]
    # The polynomial and its derivative side by side: what numpy takes for a call is what it takes.
    both = np.zeros((rows, 2, count))
    both[:, 0], both[:-1, 1] = poly, slope_of(poly)
    s = (low + high) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(_ROUNDS):
            value, slope = value_at(both, s)
            above = (value > 0) == rising
            high = np.where(above, s, high)
            low = np.where(above, low, s)
            newton = s - value / slope
            # At a root no step is left, and an end of the bracket is where it stands.
            inside = (newton >= low) & (newton <= high)
            s = np.where(inside, newton, (low + high) / 2)
    return s
