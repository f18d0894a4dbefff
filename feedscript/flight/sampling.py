"""Many scattered balls of each feed, drawn and flown in bounded batches.

What strays at the mouth (speed, elevation, azimuth, top and side spin, in that order) is normal and
independent from ball to ball. The same generator gives the same balls, whatever the batch.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np

from feedscript.flight.bounce import Rebound, Surface, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array, Lanes
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, land

_AT_ONCE = 1 << 15
_STRAYING = ("speed_mps", "elevation_deg", "azimuth_deg", "top_rpm", "side_rpm")
#: No ball leaves slower than this share of what was meant.
_SLOWEST = 0.1


class Batch(msgspec.Struct, frozen=True, eq=False):
    """Some of the balls: which feed each is of, how it left, landed and bounced."""

    feed: Lanes
    launches: Launches
    flights: Flights
    rebound: Rebound


def scattered(launches: Launches, sigmas: Array, normals: Array) -> Launches:
    """Balls of the feeds with what strays added: one ball a launch.

    ``sigmas`` and ``normals`` are (n, 5): standard deviations, and standard normal draws.
    """
    strayed = {
        name: getattr(launches, name) + sigmas[:, k] * normals[:, k]
        for k, name in enumerate(_STRAYING)
    }
    strayed["speed_mps"] = np.maximum(strayed["speed_mps"], _SLOWEST * launches.speed_mps)
    return msgspec.structs.replace(launches, **strayed).thrown_by_wheels()


def fly_scattered(
    launches: Launches,
    sigmas: Array,
    balls: int,
    random: np.random.Generator,
    conditions: Conditions,
    surface: Surface,
    at_once: int = _AT_ONCE,
) -> Iterator[Batch]:
    """``balls`` balls of every feed through landing and bounce, at most ``at_once`` together.

    ``sigmas`` is (feeds, 5). Feed 0 comes first; memory does not grow with the number of balls.
    """
    total = len(launches) * balls
    for start in range(0, total, at_once):
        feed: Lanes = np.arange(start, min(start + at_once, total)) // balls
        normals = random.standard_normal((len(feed), len(_STRAYING)))
        drawn = scattered(launches.some(feed), sigmas[feed], normals)
        flights = land(drawn, conditions)
        yield Batch(feed, drawn, flights, rebound(flights, conditions, surface))
