"""From a feed's flights, as it is and strayed, to its corridor.

All flights are read at the same horizontal distances from the mouth, along the feed's azimuth.
What each quantity alone moves the ball to the side, up or down there is combined as the root of the
sum of squares, and no less than what all together do in the two worst ways; what another surface
would do is added whole, since it is not chance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from feedscript.flight.tracks import Tracks
from feedscript.safety.envelope import Array, Envelope

#: Cuts of a corridor.
CUTS = 96


@dataclass(frozen=True, slots=True)
class Lanes:
    """The flights of one feed: row 0 as it is, each quantity up, each down, the two joint ways."""

    azimuth_deg: float
    before: Tracks
    after: Tracks
    other_after: list[Tracks]  # second flights on other surfaces, one row each


@dataclass(frozen=True, slots=True)
class _Way:
    """One flight over both bounces, by its horizontal distance along the azimuth."""

    along_m: Array
    aside_m: Array  # to the right
    height_m: Array
    time_s: Array
    speed_mps: Array

    def at(self, along_m: Array, values: Array) -> Array:
        read: Array = np.interp(along_m, self.along_m, values)
        return read


def corridor(lanes: Lanes, net_rooms_m: Array) -> Envelope:
    """The corridor of one feed; ``net_rooms_m`` has each lane's room over the net."""
    ways = [_way(lanes, row) for row in range(len(lanes.before.place_m))]
    others = [_other_way(lanes, after) for after in lanes.other_after]
    nominal = ways[0]
    end = max(way.along_m[-1] for way in [*ways, *others])
    bounce_m = float(nominal.along_m[len(lanes.before.time_s[0]) - 1])
    cuts = np.sort(np.append(np.linspace(0.0, end, CUTS - 1), bounce_m))
    aside, height = nominal.at(cuts, nominal.aside_m), nominal.at(cuts, nominal.height_m)
    side = [np.abs(way.at(cuts, way.aside_m) - aside) for way in ways[1:]]
    lift = [way.at(cuts, way.height_m) - height for way in ways[1:]]
    moved = [way.at(cuts, way.height_m) - height for way in others]
    swung = [np.abs(way.at(cuts, way.aside_m) - aside) for way in others]
    return Envelope(
        centre_m=_places(lanes, cuts, aside, height),
        side_m=_combined(side) + _greatest(swung, cuts),
        up_m=_combined(lift) + _greatest(moved, cuts),
        down_m=_combined([-one for one in lift]) + _greatest([-one for one in moved], cuts),
        speed_mps=nominal.at(cuts, nominal.speed_mps),
        time_s=nominal.at(cuts, nominal.time_s),
        bounce=int(np.searchsorted(cuts, bounce_m, side="right")),
        net_room_m=_net_room(net_rooms_m),
    )


#: Rows at the end in which all quantities stray together.
_JOINT = 2


def _combined(moves: list[Array]) -> Array:
    """Root of the sum of squares over the quantities of the greater move, up or down."""
    single, joint = moves[:-_JOINT], moves[-_JOINT:]
    half = len(single) // 2
    greatest = [np.maximum(single[i], single[i + half]) for i in range(half)]
    total: Array = np.sqrt(sum(np.maximum(one, 0.0) ** 2 for one in greatest))
    most: Array = np.maximum.reduce([total, *joint])
    return most


def _greatest(moves: list[Array], cuts: Array) -> Array:
    result = np.zeros_like(cuts)
    for move in moves:
        result = np.maximum(result, move)
    return result


def _net_room(rooms_m: Array) -> float:
    """The room over the net at the low end of the scatter."""
    lost = [np.array([rooms_m[0] - room]) for room in rooms_m[1:]]
    return float(rooms_m[0] - _combined(lost)[0])


def _heading(azimuth_deg: float) -> tuple[Array, Array]:
    """Unit vectors on the ground along the azimuth and to its right."""
    turn = np.radians(azimuth_deg)
    return np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])


def _way(lanes: Lanes, row: int) -> _Way:
    return _joined(lanes, row, lanes.after, row)


def _other_way(lanes: Lanes, after: Tracks) -> _Way:
    return _joined(lanes, 0, after, 0)


def _joined(lanes: Lanes, row: int, after: Tracks, after_row: int) -> _Way:
    before = lanes.before
    place = np.concatenate([before.place_m[row], after.place_m[after_row]])
    velocity = np.concatenate([before.velocity_mps[row], after.velocity_mps[after_row]])
    time = np.concatenate([before.time_s[row], before.time_s[row][-1] + after.time_s[after_row]])
    along, right = _heading(lanes.azimuth_deg)
    origin = lanes.before.place_m[0, 0, :2]
    way = (place[:, :2] - origin) @ along
    return _Way(
        # A ball that drifts back is read as one that stands: the cuts only look forward.
        along_m=np.maximum.accumulate(way),
        aside_m=(place[:, :2] - origin) @ right,
        height_m=place[:, 2],
        time_s=time,
        speed_mps=np.sqrt(np.sum(velocity**2, axis=1)),
    )


def _places(lanes: Lanes, cuts: Array, aside: Array, height: Array) -> Array:
    along, right = _heading(lanes.azimuth_deg)
    ground = lanes.before.place_m[0, 0, :2] + cuts[:, None] * along + aside[:, None] * right
    return np.column_stack([ground, height])
