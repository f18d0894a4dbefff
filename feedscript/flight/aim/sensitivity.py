"""How a landing moves when a launch does: the linear part, for scatter and for tuning."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.models import Array, Lanes
from feedscript.flight.motion.flights import Conditions, Flights, Launches, fly, land

#: How far apart the flights are whose difference makes the sensitivity.
NUDGES = {
    "speed_mps": 0.05,
    "elevation_deg": 0.1,
    "azimuth_deg": 0.1,
    "top_rpm": 20.0,
    "side_rpm": 20.0,
}

#: Up to so many flights a batch of their own would take longer than the apex and net, which nobody
#: asks for, of those a little apart. Measured; either way gives the same to the last bit.
_FEW = 300


class Sensitivity(msgspec.Struct, frozen=True, eq=False):
    """Metres that the landing (x, y) moves for one unit more at the mouth: each (2, n)."""

    speed_mps: Array
    elevation_deg: Array
    azimuth_deg: Array
    top_rpm: Array
    side_rpm: Array

    def some(self, chosen: Lanes | slice) -> Sensitivity:
        return Sensitivity(*(getattr(self, name)[:, chosen] for name in self.__struct_fields__))


def sensitivity(
    launches: Launches,
    conditions: Conditions,
    flights: Flights | None = None,
    *,
    by_wheels: bool = True,
) -> Sensitivity:
    """Differences of flights a little apart. ``flights`` are those of ``launches``, if at hand.

    ``by_wheels``: a nudge changes what wheels would give, so that no spin about the throw arises.
    """
    centre = land(launches, conditions) if flights is None else flights
    ends = land(_nudged(launches, conditions, by_wheels), conditions)
    return _differences(launches, conditions, centre, ends)


def flown_with_sensitivity(
    launches: Launches, conditions: Conditions, *, by_wheels: bool
) -> tuple[Flights, Sensitivity]:
    """The flights, and how their landings move, as :func:`sensitivity`; few all in one batch."""
    balls = len(launches)
    if balls > _FEW:
        flights = fly(launches, conditions)
        return flights, sensitivity(launches, conditions, flights, by_wheels=by_wheels)
    nudged = _nudged(launches, conditions, by_wheels)
    flown = fly(Launches.joined([launches, nudged]), conditions)
    flights, ends = flown.some(slice(None, balls)), flown.some(slice(balls, None))
    return flights, _differences(launches, conditions, flights, ends)


def _moves(conditions: Conditions) -> list[str]:
    """The quantities whose part is found by flying."""
    return [name for name in NUDGES if not (name == "azimuth_deg" and conditions.still)]


def _nudged(launches: Launches, conditions: Conditions, by_wheels: bool) -> Launches:
    """Every launch with a little more of each quantity, one quantity after another."""
    moved = Launches.joined(
        [
            msgspec.structs.replace(launches, **{name: getattr(launches, name) + NUDGES[name]})
            for name in _moves(conditions)
        ]
    )
    return moved.thrown_by_wheels() if by_wheels else moved


def _differences(
    launches: Launches, conditions: Conditions, centre: Flights, ends: Flights
) -> Sensitivity:
    moves, start = _moves(conditions), np.stack([centre.landing_x_m, centre.landing_y_m])
    landings = np.stack([ends.landing_x_m, ends.landing_y_m]).reshape(2, len(moves), -1)
    found = {name: (landings[:, row] - start) / NUDGES[name] for row, name in enumerate(moves)}
    return Sensitivity(**{"azimuth_deg": _turned(launches, start), **found})


def _turned(launches: Launches, landing: Array) -> Array:
    """In still air a turn of the launcher turns the whole flight about the mouth."""
    x, y = landing[0] - launches.x_m, landing[1] - launches.y_m
    return np.stack([y, -x]) * (np.pi / 180)
