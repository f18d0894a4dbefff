"""The throws of a feed that stand for its scatter.

The feed as it is; each quantity at the mouth so many standard deviations up and down; and all of
them together, as far out, in the worst ways.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from feedscript.launcher.scatter import MOUTH_QUANTITIES
from feedscript.launcher.throw import Throw
from feedscript.plan.model import AimedFeed

Array = NDArray[np.float64]

#: Quantities at the mouth that stray.
QUANTITIES = len(MOUTH_QUANTITIES)
#: Throws of a feed: as it is, each quantity up, each down; then, apart, the joint ways.
SINGLE = 1 + 2 * QUANTITIES
JOINT = 4


def throw_of_feed(feed: AimedFeed) -> Throw:
    """How the feed leaves the mouth."""
    return Throw(
        speed_mps=feed.speed_mps,
        elevation_deg=feed.elevation_deg,
        azimuth_deg=feed.azimuth_deg,
        top_rpm=feed.top_rpm,
        side_rpm=feed.side_rpm,
    )


def strayed_alone(feed: AimedFeed, sigmas: Array, sigma: float) -> Array:
    """The feed's quantities at the mouth, as they are and strayed: (SINGLE, 5)."""
    throw = throw_of_feed(feed)
    centre = np.array([getattr(throw, name) for name in MOUTH_QUANTITIES])
    step = np.diag(sigma * sigmas)
    strayed: Array = np.concatenate([centre[None], centre + step, centre - step])
    return strayed


def strayed_together(strayed: Array, gain: Array) -> Array:
    """For each feed the throw ``sigma`` out, all quantities together, that gains most: (feeds, 5).

    Each quantity takes the share of the distance that it has in the outcome alone (the design point
    of first-order reliability), so that what two of them do together is not lost. ``gain`` is what
    each of the ``strayed`` throws has more than the first: (feeds, SINGLE).
    """
    up, down = gain[:, 1 : QUANTITIES + 1], gain[:, QUANTITIES + 1 :]
    most = np.maximum(np.maximum(up, down), 0.0)
    length = np.sqrt(np.sum(most**2, axis=1, keepdims=True))
    share = most / np.where(length > 0.0, length, 1.0)
    higher, lower = strayed[:, 1 : QUANTITIES + 1], strayed[:, QUANTITIES + 1 :]
    best = np.where((up >= down)[:, :, None], higher, lower)
    centre = strayed[:, 0]
    moved: Array = centre + np.sum(share[:, :, None] * (best - centre[:, None]), axis=1)
    return moved


def root_of_squares(moves: Array) -> Array:
    """Root of the sum of squares over the quantities of the greater move, up or down.

    ``moves`` holds those of every quantity up, then of every one down. Steps have their full size,
    so that it holds where the outcome bends, as near the longest throw there is.
    """
    greater = np.maximum(np.maximum(moves[:QUANTITIES], moves[QUANTITIES:]), 0.0)
    total: Array = np.sqrt(np.sum(greater**2, axis=0))
    return total
