"""Where a ball meets its receiver: how near, how high, how fast, how soon."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feedscript.safety.case import Case


@dataclass(frozen=True, slots=True)
class Arrival:
    """The ball at its nearest to the receiver; without one, just after the first bounce.

    ``lowest_m`` is the least height of its centre within ``NEAR_M`` of that place, and
    ``speed_mps`` the greatest speed there, fast end of the scatter.
    """

    away_m: float | None
    lowest_m: float
    speed_mps: float
    time_s: float


#: A player meets the ball about here around the ready position: 80 % of strokes are played within
#: 2.5 m of it (Fernandez, Mendez-Villanueva & Pluim 2006, Br. J. Sports Med. 40:387-391).
NEAR_M = 2.5


def arrival(case: Case, index: int) -> Arrival:
    """How the feed with this index arrives."""
    feed, envelope = case.plan.feeds[index], case.envelopes[index]
    faster = 1.0 + case.sigma * case.profile(feed).dispersion.speed_share
    after = np.arange(len(envelope.speed_mps)) >= envelope.bounce
    if feed.receiver_m is None:
        here = after
        nearest = envelope.bounce
        away = None
    else:
        gaps = np.hypot(*(envelope.centre_m[:, :2] - np.array(feed.receiver_m)).T)
        nearest = int(np.argmin(gaps))
        here = gaps <= max(NEAR_M, float(gaps[nearest]))
        away = float(gaps[nearest])
    return Arrival(
        away_m=away,
        lowest_m=float(envelope.centre_m[here, 2].min()),
        speed_mps=float(envelope.speed_mps[here].max()) * faster,
        time_s=float(envelope.time_s[nearest]),
    )
