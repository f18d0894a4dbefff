"""Where a ball meets its receiver: how near, how high, how fast, how soon."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec
import numpy as np

from feedscript.flight.bounce import Surface
from feedscript.flight.motion.tracks import Tracks
from feedscript.launcher.profile.model import Profile
from feedscript.memo import content
from feedscript.plan.model import Plan
from feedscript.safety.hazards.surfaces import surfaces
from feedscript.safety.hazards.throws import AS_AIMED, Throws

#: A player meets the ball about here around the ready position: 80 % of strokes are played within
#: 2.5 m of it (Fernandez, Mendez-Villanueva & Pluim 2006, Br. J. Sports Med. 40:387-391).
NEAR_M = 2.5
_POINTS = 48


class Arrival(msgspec.Struct, frozen=True):
    """The ball at its nearest to the receiver; without one, just after the first bounce.

    ``lowest_m`` is the least height of its centre within ``NEAR_M`` of that place, and
    ``speed_mps`` the greatest speed there, fast end of the scatter.
    """

    away_m: float | None
    lowest_m: float
    speed_mps: float
    time_s: float


def arrivals(
    plan: Plan, profiles: Sequence[Profile], throws: Throws, sigma: float
) -> Iterator[tuple[int, Arrival]]:
    """How each of these feeds arrives, on the surface that throws it on fastest."""
    possible = surfaces(plan.court)
    released = [throws.released(surface).some(AS_AIMED) for surface in possible]
    speeds = np.stack([np.sqrt(np.sum(one.velocity_mps**2, axis=0)) for one in released])
    fastest = possible[int(np.argmax(np.nan_to_num(speeds).sum(axis=1)))]
    met = [
        _Met(
            receiver_m=plan.feeds[index].receiver_m,
            bounced_mps=float(speeds[:, row].max()),
            faster=1.0 + sigma * profiles[plan.feeds[index].launcher].dispersion.speed_share,
        )
        for row, index in enumerate(throws.feeds)
    ]
    keys = [(key, content(fastest, one)) for key, one in zip(throws.keys, met, strict=True)]
    found = throws.memo.each("arrivals", keys, lambda rows: _arrivals(throws, fastest, met, rows))
    return zip(throws.feeds, found, strict=True)


class _Met(msgspec.Struct, frozen=True):
    """Of one feed: where it is received, and how fast it is after its bounce, by which factor more
    at the fast end of the scatter."""

    receiver_m: tuple[float, float] | None
    bounced_mps: float
    faster: float


def _arrivals(
    throws: Throws, fastest: Surface, met: Sequence[_Met], rows: Sequence[int]
) -> list[Arrival]:
    """How the feeds of some rows arrive."""
    waiting = any(met[row].receiver_m is not None for row in rows)
    if not waiting:
        return [_arrival(throws, None, None, met[row], row) for row in rows]
    before, after = throws.before(_POINTS, fastest), throws.after(fastest, _POINTS)
    return [_arrival(throws, before, after, met[row], row) for row in rows]


def _arrival(
    throws: Throws, before: Tracks | None, after: Tracks | None, met: _Met, row: int
) -> Arrival:
    flight_s = float(throws.flight_s[row])
    if met.receiver_m is None or before is None or after is None:
        speed = met.bounced_mps * met.faster
        return Arrival(None, throws.conditions.ball.radius_m, speed, flight_s)
    place = np.concatenate([before.place_m[row], after.place_m[row]])
    velocity = np.concatenate([before.velocity_mps[row], after.velocity_mps[row]])
    time = np.concatenate([before.time_s[row], after.time_s[row] + flight_s])
    gaps = np.hypot(*(place[:, :2] - np.array(met.receiver_m)).T)
    nearest = int(np.argmin(gaps))
    here = gaps <= max(NEAR_M, float(gaps[nearest]))
    return Arrival(
        away_m=float(gaps[nearest]),
        lowest_m=float(place[here, 2].min()),
        speed_mps=float(np.sqrt(np.sum(velocity[here] ** 2, axis=1)).max()) * met.faster,
        time_s=float(time[nearest]),
    )
