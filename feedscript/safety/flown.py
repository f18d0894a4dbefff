"""Every feed of a plan flown again, from the plan alone, with its scatter.

Each feed is flown as it is and with each quantity at the mouth ``sigma`` standard deviations up and
down; all feeds of a launcher in one batch, through the first bounce to the second.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from feedscript.court.lines import COURTS, Court
from feedscript.flight.bounce import Surface, rebound
from feedscript.flight.conditions import Conditions
from feedscript.flight.launches import Launches, Release
from feedscript.flight.motion import Flights, fly
from feedscript.flight.sensitivity import sensitivity
from feedscript.flight.tracks import Tracks, track
from feedscript.launcher.profile import Profile
from feedscript.launcher.scatter import (
    MOUTH_QUANTITIES,
    ellipse_of,
    ground_covariance,
    mouth_sigmas,
)
from feedscript.launcher.throw import Throw
from feedscript.plan.flying import conditions_for
from feedscript.plan.model import AimedFeed, Plan
from feedscript.safety.corridor import Lanes, corridor
from feedscript.safety.envelope import Array, Envelope
from feedscript.safety.surfaces import surfaces

#: Points of each flight that a corridor is drawn through: between two of them a ball falls away
#: from the straight line by g t^2 / 8, 0.7 mm for a flight of 1.5 s.
POINTS = 64


@dataclass(frozen=True, slots=True)
class Flown:
    """What a feed does when it is flown again, in the plan's own terms."""

    landing_m: tuple[float, float]
    net_clearance_m: float
    flight_s: float
    apex_m: float
    speed_at_bounce_mps: float
    scatter_m: tuple[float, float]  # one-sigma half axes of the landings, the greater first
    reach_m: tuple[float, float]  # along x and y, at the case's sigma


def fly_again(
    plan: Plan, profiles: tuple[Profile, ...], sigma: float
) -> tuple[tuple[Flown, Envelope], ...]:
    """Every feed's flight and corridor, in the plan's order."""
    found: dict[int, tuple[Flown, Envelope]] = {}
    for number, profile in enumerate(profiles):
        chosen = [i for i, feed in enumerate(plan.feeds) if feed.launcher == number]
        if chosen:
            feeds = [plan.feeds[i] for i in chosen]
            mouth = plan.launchers[number].mouth_m
            conditions = conditions_for(plan.court, plan.balls, profile)
            batch = _Batch(feeds, profile, mouth, conditions, sigma, surfaces(plan.court))
            found.update(zip(chosen, batch.results(COURTS[plan.court.kind]), strict=True))
    return tuple(found[i] for i in range(len(plan.feeds)))


#: Rows of a feed in a batch: as it is, each quantity up, each down, and all together the way that
#: takes the ball highest and the way that brings it lowest over the net.
_SINGLE = 1 + 2 * len(MOUTH_QUANTITIES)
_LANES = _SINGLE + 2


@dataclass(frozen=True, slots=True)
class _Batch:
    """All feeds of one launcher."""

    feeds: list[AimedFeed]
    profile: Profile
    mouth_m: tuple[float, float, float]
    conditions: Conditions
    sigma: float
    surfaces: tuple[Surface, ...]  # one, or every surface there is where none was declared

    def results(self, court: Court) -> Iterator[tuple[Flown, Envelope]]:
        single = [self._strayed(feed) for feed in self.feeds]
        first = fly(self._launches(np.concatenate(single)), self.conditions)
        rooms = _net_rooms(first, self.conditions, court)
        columns = [
            np.vstack([strayed, *_joint(strayed, first.apex_m[rows], rooms[rows])])
            for strayed, rows in zip(single, _rows_of(len(single), _SINGLE), strict=True)
        ]
        launches = self._launches(np.concatenate(columns))
        flights = fly(launches, self.conditions)
        rooms = _net_rooms(flights, self.conditions, court)
        jacobians = self._jacobians(launches)
        before = track(launches, self.conditions, POINTS)
        after = self._after(flights)
        for number, rows in enumerate(_rows_of(len(self.feeds), _LANES)):
            lanes = Lanes(
                azimuth_deg=self.feeds[number].azimuth_deg,
                before=_rows(before, rows),
                after=_rows(after[0], rows),
                other_after=[_rows(one, slice(number, number + 1)) for one in after[1:]],
            )
            flown = self._flown(flights, rooms, rows.start, jacobians[number])
            yield flown, corridor(lanes, rooms[rows])

    def _flown(self, flights: Flights, rooms: Array, row: int, jacobian: Array) -> Flown:
        sigmas = mouth_sigmas(self.profile, _throw(self.feeds[row // _LANES]))
        ellipse = ellipse_of(ground_covariance(jacobian, sigmas))
        return Flown(
            landing_m=(float(flights.landing_x_m[row]), float(flights.landing_y_m[row])),
            net_clearance_m=float(rooms[row]),
            flight_s=float(flights.flight_s[row]),
            apex_m=float(flights.apex_m[row]),
            speed_at_bounce_mps=float(flights.speed_at_bounce_mps[row]),
            scatter_m=(ellipse.major_m, ellipse.minor_m),
            reach_m=_reach(flights, row),
        )

    def _jacobians(self, launches: Launches) -> Array:
        """Metres that each feed's landing moves for each quantity: (feeds, 2, 5)."""
        unstrayed = launches.some(slice(0, None, _LANES))
        moved = sensitivity(unstrayed, self.conditions)
        columns = [getattr(moved, name) for name in MOUTH_QUANTITIES]
        return np.stack(columns, axis=-1).swapaxes(0, 1)

    def _launches(self, columns: Array) -> Launches:
        speed, elevation, azimuth, top, side = columns.T
        x, y, z = self.mouth_m
        return Launches.of(
            speed, elevation, azimuth, top_rpm=top, side_rpm=side, x_m=x, y_m=y, z_m=z
        ).thrown_by_wheels()

    def _strayed(self, feed: AimedFeed) -> Array:
        """The feed's quantities at the mouth, as they are and strayed: (_SINGLE, 5)."""
        throw = _throw(feed)
        centre = np.array([getattr(throw, name) for name in MOUTH_QUANTITIES])
        step = np.diag(self.sigma * mouth_sigmas(self.profile, throw))
        strayed: Array = np.concatenate([centre[None], centre + step, centre - step])
        return strayed

    def _after(self, flights: Flights) -> list[Tracks]:
        """The second flights; on every further surface those of the unstrayed feeds only."""
        main, *others = self.surfaces
        found = [track(rebound(flights, self.conditions, main).release, self.conditions, POINTS)]
        unstrayed = slice(0, None, _LANES)
        for surface in others:
            release: Release = rebound(flights, self.conditions, surface).release.some(unstrayed)
            found.append(track(release, self.conditions, POINTS))
        return found


def _throw(feed: AimedFeed) -> Throw:
    return Throw(
        speed_mps=feed.speed_mps,
        elevation_deg=feed.elevation_deg,
        azimuth_deg=feed.azimuth_deg,
        top_rpm=feed.top_rpm,
        side_rpm=feed.side_rpm,
    )


def _reach(flights: Flights, row: int) -> tuple[float, float]:
    """How far strayed balls land from the unstrayed one along x and y, either way.

    Root of the sum of squares over the quantities of the greater move: with steps of full size, so
    that it holds where a landing bends, as near the longest throw there is.
    """
    half = len(MOUTH_QUANTITIES)
    landings = np.stack([flights.landing_x_m, flights.landing_y_m], axis=-1)
    moved = np.abs(landings[row + 1 : row + _SINGLE] - landings[row])
    reach = np.sqrt(np.sum(np.maximum(moved[:half], moved[half:]) ** 2, axis=0))
    return float(reach[0]), float(reach[1])


def _joint(strayed: Array, apex_m: Array, rooms_m: Array) -> tuple[Array, Array]:
    """The two throws ``sigma`` out that send the ball highest, and lowest over the net.

    Each quantity takes the share of the distance that it has in the outcome alone (the design point
    of first-order reliability), so that what two of them do together is not lost.
    """
    return _outermost(strayed, apex_m - apex_m[0]), _outermost(strayed, rooms_m[0] - rooms_m)


def _outermost(strayed: Array, gain_m: Array) -> Array:
    half = (len(strayed) - 1) // 2
    up, down = gain_m[1 : half + 1], gain_m[half + 1 :]
    gain = np.maximum(np.maximum(up, down), 0.0)
    length = np.sqrt(np.sum(gain**2))
    centre: Array = strayed[0]
    if not length > 0.0:
        return centre
    best = np.where((up >= down)[:, None], strayed[1 : half + 1], strayed[half + 1 :])
    moved: Array = centre + (gain / length) @ (best - centre)
    return moved


def _rows_of(feeds: int, lanes: int) -> list[slice]:
    return [slice(number * lanes, (number + 1) * lanes) for number in range(feeds)]


def _rows(tracks: Tracks, rows: slice) -> Tracks:
    return Tracks(tracks.place_m[rows], tracks.velocity_mps[rows], tracks.time_s[rows])


def _net_rooms(flights: Flights, conditions: Conditions, court: Court) -> Array:
    """Room between the ball's lower edge and the cord; a ball that never gets there has less
    than none: the height of the net."""
    room = flights.net_height_m - conditions.ball.radius_m - court.net.heights_m(flights.net_x_m)
    short: Array = np.where(np.isfinite(room), room, -court.net.support_m)
    return short
