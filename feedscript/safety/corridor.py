"""From a feed's flights, as it is and strayed, to its corridor.

All flights are read at the same horizontal distances from the mouth, along the feed's azimuth.
What each quantity alone moves the ball to the side, up or down there is combined as the root of the
sum of squares, and no less than what all together do in the worst ways; what another surface
would do is added whole, since it is not chance.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.flight.bounce import Surface, rebound
from feedscript.flight.conditions import Conditions
from feedscript.flight.motion import land
from feedscript.flight.tracks import Tracks, track
from feedscript.plan.model import Plan
from feedscript.safety.envelope import Array, Envelope
from feedscript.safety.flown import JOINT, SINGLE, Again, Throws

#: Points of each flight: between two of them a ball falls away from the straight line by
#: g t^2 / 8, 2 mm for a flight of 1.5 s.
POINTS = 40
#: Cuts of a corridor.
CUTS = 96
_ROWS = SINGLE + JOINT
#: Further than any ball flies: keeps the ways of different throws apart in one sorted array.
_APART_M = 1000.0


def corridors(
    plan: Plan, again: Sequence[Again], surfaces: tuple[Surface, ...]
) -> dict[int, Envelope]:
    """The corridor of every feed, by its index in the plan."""
    found: dict[int, Envelope] = {}
    for batch in again:
        throws = batch.throws
        azimuths = np.radians([plan.feeds[i].azimuth_deg for i in throws.feeds])
        found.update(zip(throws.feeds, _Ways.of(throws, azimuths, surfaces).cut(), strict=True))
    return found


class _Ways(msgspec.Struct, frozen=True):
    """All flights of a batch over both bounces: (feeds, ways, points) each.

    A feed's ways are its strayed throws on the first surface, then the unstrayed one on each other
    surface.
    """

    along_m: Array  # along the azimuth, never falling
    aside_m: Array  # to the right
    height_m: Array
    time_s: Array  # (feeds, points), of the unstrayed throw
    speed_mps: Array
    azimuths: Array
    mouths_m: Array  # (feeds, 3)

    @classmethod
    def of(cls, throws: Throws, azimuths: Array, surfaces: tuple[Surface, ...]) -> _Ways:
        feeds = len(throws.feeds)
        before = track(throws.launches, throws.conditions, POINTS, throws.flights.flight_s)
        after = [_after(throws, surface, first=not n) for n, surface in enumerate(surfaces)]
        own = _shaped(before, feeds)
        place = [_joined(own[0], _shaped(after[0], feeds)[0])]
        place += [_joined(own[0][:, :1], _shaped(one, feeds)[0]) for one in after[1:]]
        places = np.concatenate(place, axis=1)
        mouths = places[:, 0, 0]
        ahead = np.stack([np.sin(azimuths), np.cos(azimuths)], axis=-1)
        right = np.stack([np.cos(azimuths), -np.sin(azimuths)], axis=-1)
        ground = places[..., :2] - mouths[:, None, None, :2]
        along = np.einsum("fwpc,fc->fwp", ground, ahead)
        then = _shaped(after[0], feeds)
        velocity = _joined(own[1], then[1])[:, 0]
        return cls(
            # A ball that drifts back is read as one that stands: the cuts only look forward.
            along_m=np.maximum.accumulate(along, axis=-1),
            aside_m=np.einsum("fwpc,fc->fwp", ground, right),
            height_m=places[..., 2],
            time_s=_joined(own[2], then[2] + own[2][..., -1:])[:, 0],
            speed_mps=np.sqrt(np.sum(velocity**2, axis=-1)),
            azimuths=azimuths,
            mouths_m=mouths,
        )

    def cut(self) -> list[Envelope]:
        """The corridor of each feed."""
        ends = self.along_m[..., -1].max(axis=1)
        bounce = self.along_m[:, 0, POINTS - 1]
        even = ends[:, None] * np.linspace(0.0, 1.0, CUTS - 1)
        cuts = np.sort(np.concatenate([even, bounce[:, None]], axis=1), axis=1)
        aside, height = self._at(cuts, self.aside_m), self._at(cuts, self.height_m)
        lift = height[:, 1:] - height[:, :1]
        side = _combined(np.abs(aside[:, 1:] - aside[:, :1]))
        up, down = _combined(lift), _combined(-lift)
        speed = self._at(cuts, self.speed_mps[:, None])[:, 0]
        time = self._at(cuts, self.time_s[:, None])[:, 0]
        centre = self._places(cuts, aside[:, 0], height[:, 0])
        return [
            Envelope(
                centre_m=centre[i],
                side_m=side[i],
                up_m=up[i],
                down_m=down[i],
                speed_mps=speed[i],
                time_s=time[i],
                bounce=int(np.searchsorted(cuts[i], bounce[i], side="right")),
            )
            for i in range(len(cuts))
        ]

    def _at(self, cuts: Array, values: Array) -> Array:
        """Values of some of the ways (the first ones) at every cut: (feeds, ways, cuts)."""
        ways = values.shape[1]
        along = np.nan_to_num(self.along_m[:, :ways])
        feeds, _, points = along.shape
        rows = np.arange(feeds * ways).reshape(feeds, ways, 1)
        line = (along + rows * _APART_M).ravel()
        asked = np.minimum(np.nan_to_num(cuts)[:, None], along[..., -1:]) + rows * _APART_M
        after = np.searchsorted(line, asked.ravel()).reshape(asked.shape)
        after = np.clip(after, rows * points + 1, rows * points + points - 1)
        low, high = line[after - 1], line[after]
        share = (asked - low) / np.where(high > low, high - low, 1.0)
        flat = values.ravel()
        read: Array = flat[after - 1] + np.clip(share, 0.0, 1.0) * (flat[after] - flat[after - 1])
        return read

    def _places(self, cuts: Array, aside: Array, height: Array) -> Array:
        sin, cos = np.sin(self.azimuths)[:, None], np.cos(self.azimuths)[:, None]
        x = self.mouths_m[:, :1] + cuts * sin + aside * cos
        y = self.mouths_m[:, 1:2] + cuts * cos - aside * sin
        return np.stack([x, y, height], axis=-1)


def _after(throws: Throws, surface: Surface, *, first: bool) -> Tracks:
    """The second flights; on any but the first surface those of the unstrayed throws only."""
    conditions: Conditions = throws.conditions
    release = rebound(throws.flights, conditions, surface).release
    if not first:
        release = release.some(slice(0, None, _ROWS))
    return track(release, conditions, POINTS, land(release, conditions).flight_s)


def _shaped(tracks: Tracks, feeds: int) -> tuple[Array, Array, Array]:
    """Places, velocities and times by feed and way."""
    return (
        tracks.place_m.reshape(feeds, -1, POINTS, 3),
        tracks.velocity_mps.reshape(feeds, -1, POINTS, 3),
        tracks.time_s.reshape(feeds, -1, POINTS),
    )


def _joined(before: Array, after: Array) -> Array:
    return np.concatenate([before, after], axis=2)


def _combined(moves: Array) -> Array:
    """What all the moves of a feed's ways come to at each cut: (feeds, cuts)."""
    half = (SINGLE - 1) // 2
    single, joint = moves[:, : SINGLE - 1], moves[:, SINGLE - 1 : _ROWS - 1]
    greater = np.maximum(np.maximum(single[:, :half], single[:, half:]), 0.0)
    total = np.maximum(np.sqrt(np.sum(greater**2, axis=1)), joint.max(axis=1))
    others = moves[:, _ROWS - 1 :]
    if others.shape[1]:
        total += np.maximum(others.max(axis=1), 0.0)
    whole: Array = total
    return whole
