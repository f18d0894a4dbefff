"""The net: how high it stands at each place across the court."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

FOOT_M = 0.3048


class Net(msgspec.Struct, frozen=True):
    """A net pulled down by its strap in the middle and held up by a post or stick at each side.

    ITF Rules of Tennis, Rule 1: 3 ft (0.914 m) at the centre, 3.5 ft (1.07 m) at the posts, which
    stand 3 ft (0.914 m) outside the doubles court, or outside the singles court where a singles
    net or singles sticks are used. The rules give the ends only; the straight line between them is
    our convention (the strap keeps the cord taut). Past the support the net is taken to go on at
    its full height: a feed around the post is never counted as one that cleared the net.
    """

    centre_m: float
    support_m: float
    support_x_m: float

    def height_m(self, x_m: float) -> float:
        """Height of the net cord above the ground at ``x_m`` from the middle."""
        share = min(abs(x_m) / self.support_x_m, 1.0)
        return self.centre_m + (self.support_m - self.centre_m) * share

    def heights_m(self, x_m: NDArray[np.float64]) -> NDArray[np.float64]:
        """``height_m`` for an array of any shape."""
        share = np.minimum(np.abs(x_m) / self.support_x_m, 1.0)
        return self.centre_m + (self.support_m - self.centre_m) * share
