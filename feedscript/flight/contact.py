"""Where the player meets the ball: after the bounce, or before it."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.bounce import Surface, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array, Mask
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.events import Plane
from feedscript.flight.motion.flights import Crossings, Flights, cross, land


class Contacts(msgspec.Struct, frozen=True, eq=False):
    """Balls at the moment they reach the player; NaN where they do not.

    ``time_s`` counts from the mouth. ``volleyed`` marks balls met before their bounce.
    """

    place_m: Array  # (3, n); the third is the height of the ball's centre
    speed_mps: Array
    time_s: Array
    volleyed: Mask


def behind_bounce(
    flights: Flights, behind_m: Array, conditions: Conditions, surface: Surface
) -> Contacts:
    """Balls so far behind their bounce, along the way they bounce on (horizontally)."""
    after = rebound(flights, conditions, surface).release
    x, y = after.velocity_mps[:2]
    level = np.hypot(x, y)
    way = np.stack([x, y, 0 * x]) / np.where(level > 0, level, np.nan)
    offset = np.einsum("in,in->n", way, after.place_m) + behind_m
    (met,) = cross(after, [Plane(way, offset)], conditions)
    return _contacts(met, flights.flight_s, np.zeros(len(after), dtype=bool))


def at_player(launches: Launches, y_m: float, conditions: Conditions, surface: Surface) -> Contacts:
    """Balls as they cross the upright plane y = ``y_m`` where the player stands."""
    plane = Plane((0.0, 1.0, 0.0), y_m)
    flights = land(launches, conditions)
    (before,) = cross(launches, [plane], conditions)
    (after,) = cross(rebound(flights, conditions, surface).release, [plane], conditions)
    volley = np.isfinite(before.time_s)
    place, velocity = (
        np.where(volley, early, late)
        for early, late in (
            (before.place_m, after.place_m),
            (before.velocity_mps, after.velocity_mps),
        )
    )
    met = Crossings(place, velocity, np.where(volley, before.time_s, after.time_s))
    return _contacts(met, np.where(volley, 0.0, flights.flight_s), volley)


def _contacts(met: Crossings, earlier_s: Array, volleyed: Mask) -> Contacts:
    speed = np.sqrt(np.sum(met.velocity_mps**2, axis=0))
    return Contacts(met.place_m, speed, met.time_s + earlier_s, volleyed)
