"""The region that holds a place in 95 of 100 cases, from the place's covariance."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

#: The square of the Mahalanobis distance within which 95 of 100 places of a plane lie.
WITHIN_95 = 5.991


def region_95(
    covariance_m2: Sequence[Sequence[float]], square: float = WITHIN_95
) -> tuple[tuple[float, float], float]:
    """Half axes of its ellipse in metres, the longer first, and in degrees the turn of the longer
    one from x towards y, -90 to 90."""
    spread, turns = np.linalg.eigh(np.array(covariance_m2))
    minor, major = (math.sqrt(square * max(float(each), 0.0)) for each in spread)
    turn_deg = math.degrees(math.atan2(turns[1, 1], turns[0, 1]))
    return (major, minor), (turn_deg + 90.0) % 180.0 - 90.0
