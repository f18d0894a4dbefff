"""Every feed of a plan flown again, from the plan alone, with its scatter.

Each feed is flown as it is and with each quantity at the mouth ``sigma`` standard deviations up and
down, and then with all of them together in the worst ways: highest, lowest over the net, longest,
shortest. All feeds fly in one batch, unless
their launchers' tuning gives them other air.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.court.lines import COURTS
from feedscript.court.net import Net
from feedscript.flight.aim.sensitivity import NUDGES
from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, fly
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.scatter import (
    MOUTH_QUANTITIES,
    ellipse_of,
    ground_covariance,
    mouth_sigmas,
)
from feedscript.memo import Memo, content
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.model import AimedFeed, Plan
from feedscript.safety.hazards.strays import (
    JOINT,
    QUANTITIES,
    SINGLE,
    root_of_squares,
    strayed_alone,
    strayed_together,
    throw_of_feed,
)
from feedscript.safety.hazards.throws import ROWS, Throws

Array = NDArray[np.float64]

#: Rows of a feed's first flights: strayed alone, then nudged for its ellipse.
_FIRST = SINGLE + QUANTITIES
_NUDGE = np.diag([NUDGES[name] for name in MOUTH_QUANTITIES])


class RecomputedFlight(msgspec.Struct, frozen=True):
    """What a feed does when it is flown again: in the plan's own terms, and at its worst."""

    landing_m: tuple[float, float]
    net_clearance_m: float
    flight_s: float
    apex_m: float
    speed_at_bounce_mps: float
    scatter_m: tuple[float, float]  # one-sigma half axes of the landings, the greater first
    reach_m: tuple[float, float]  # of the landings along x and y, at the stated sigma
    net_room_m: float  # lower edge of the ball over the cord, at the low end of the scatter
    top_m: float  # the ball's centre at its highest, at the high end of the scatter


class FlightBatch(msgspec.Struct, frozen=True):
    """Feeds that fly in the same conditions, flown again."""

    throws: Throws
    recomputed: tuple[RecomputedFlight, ...]


class _Flown(msgspec.Struct, frozen=True, eq=False):
    """One feed flown again: its throws (ROWS, 5), their flights, and what comes of them."""

    columns: Array
    flights: Flights
    recomputed: RecomputedFlight


def recompute_flights(
    plan: Plan, profiles: Sequence[Profile], sigma: float, memo: Memo
) -> tuple[FlightBatch, ...]:
    """Every feed flown again; a batch for all launchers whose balls fly alike."""
    batches: dict[tuple[float, float], list[int]] = {}
    for index, feed in enumerate(plan.feeds):
        tuned = profiles[feed.launcher].calibration
        batches.setdefault((tuned.drag_factor, tuned.lift_factor), []).append(index)
    return tuple(_batch(plan, profiles, tuple(chosen), sigma, memo) for chosen in batches.values())


def _batch(
    plan: Plan, profiles: Sequence[Profile], chosen: tuple[int, ...], sigma: float, memo: Memo
) -> FlightBatch:
    keys = _keys(plan, profiles, chosen, sigma)
    flown = memo.each(
        "flown",
        keys,
        lambda rows: _of(plan, profiles, [chosen[row] for row in rows], sigma).fly(memo.go_on),
    )
    whole = _of(plan, profiles, chosen, sigma)
    throws = Throws(
        chosen,
        whole.launches(np.stack([each.columns for each in flown])),
        _joined([each.flights for each in flown]),
        whole.conditions,
        keys,
        memo,
    )
    return FlightBatch(throws, tuple(each.recomputed for each in flown))


def _keys(
    plan: Plan, profiles: Sequence[Profile], chosen: Sequence[int], sigma: float
) -> tuple[Hashable, ...]:
    """What the flights of each feed follow from."""
    where = [
        content(plan.court, plan.balls, launcher.mouth_m, profile, sigma)
        for launcher, profile in zip(plan.launchers, profiles, strict=True)
    ]
    feeds = [plan.feeds[index] for index in chosen]
    return tuple((where[feed.launcher], content(throw_of_feed(feed))) for feed in feeds)


def _of(plan: Plan, profiles: Sequence[Profile], chosen: Sequence[int], sigma: float) -> _Batch:
    feeds = tuple(plan.feeds[index] for index in chosen)
    return _Batch(
        feeds=feeds,
        mouths_m=np.array([plan.launchers[feed.launcher].mouth_m for feed in feeds]),
        profiles=tuple(profiles[feed.launcher] for feed in feeds),
        conditions=conditions_for(plan.court, plan.balls, profiles[feeds[0].launcher]),
        net=COURTS[plan.court.kind].net,
        sigma=sigma,
    )


class _Batch(msgspec.Struct, frozen=True):
    """Feeds that fly in the same conditions."""

    feeds: tuple[AimedFeed, ...]
    mouths_m: Array  # (feeds, 3)
    profiles: tuple[Profile, ...]
    conditions: Conditions
    net: Net
    sigma: float

    def fly(self, go_on: Callable[[], None]) -> list[_Flown]:
        """Every feed with its flights; ``go_on`` raises where they are given up."""
        sigmas = [
            mouth_sigmas(profile, throw_of_feed(feed))
            for profile, feed in zip(self.profiles, self.feeds, strict=True)
        ]
        single = np.stack(
            [
                strayed_alone(feed, own, self.sigma)
                for feed, own in zip(self.feeds, sigmas, strict=True)
            ]
        )
        nudged = single[:, :1] + _NUDGE
        first = self._flights(np.concatenate([single, nudged], axis=1))
        joint = self._joint(single, first)
        go_on()
        second = self._flights(joint)
        columns = np.concatenate([single, joint], axis=1)
        flights = _interleaved(first.flights, second.flights, len(self.feeds))
        found = self._each(sigmas, first, second)
        return [_Flown(columns[row], _rows(flights, row), each) for row, each in enumerate(found)]

    def _joint(self, single: Array, first: _Table) -> Array:
        """The throws that rise highest, pass the net lowest, go farthest and least far."""
        apex, room = first.apex_m[:, :SINGLE], first.room_m[:, :SINGLE]
        far = first.far_m(self.mouths_m)[:, :SINGLE]
        gains = (apex - apex[:, :1], room[:, :1] - room, far - far[:, :1], far[:, :1] - far)
        return np.stack([strayed_together(single, gain) for gain in gains], axis=1)

    def launches(self, columns: Array) -> Launches:
        """Throws of columns (feeds, rows, 5), all rows of a feed together."""
        speed, elevation, azimuth, top, side = columns.reshape(-1, QUANTITIES).T
        x, y, z = np.repeat(self.mouths_m, columns.shape[1], axis=0).T
        return Launches.of(
            speed, elevation, azimuth, top_rpm=top, side_rpm=side, x_m=x, y_m=y, z_m=z
        ).thrown_by_wheels()

    def _flights(self, columns: Array) -> _Table:
        rows = columns.shape[:2]
        flights = fly(self.launches(columns), self.conditions)
        landing = np.stack([flights.landing_x_m, flights.landing_y_m], axis=-1)
        room = _net_room(flights, self.conditions, self.net)
        return _Table(
            flights,
            landing.reshape(*rows, 2),
            flights.apex_m.reshape(rows),
            room.reshape(rows),
        )

    def _each(
        self, sigmas: Sequence[Array], first: _Table, second: _Table
    ) -> Iterator[RecomputedFlight]:
        flights = first.flights
        for number, own in enumerate(sigmas):
            row = number * _FIRST
            landing, rooms, apexes = (
                first.landing_m[number],
                first.room_m[number],
                first.apex_m[number],
            )
            jacobian = (landing[SINGLE:] - landing[0]).T / np.diag(_NUDGE)
            ellipse = ellipse_of(ground_covariance(jacobian, own))
            moved = np.abs(landing[1:SINGLE] - landing[0])
            x_m, y_m = (float(root_of_squares(moved[:, axis])) for axis in (0, 1))
            lost = float(root_of_squares(rooms[0] - rooms[1:SINGLE]))
            risen = float(root_of_squares(apexes[1:SINGLE] - apexes[0]))
            yield RecomputedFlight(
                landing_m=(float(landing[0, 0]), float(landing[0, 1])),
                net_clearance_m=float(rooms[0]),
                flight_s=float(flights.flight_s[row]),
                apex_m=float(apexes[0]),
                speed_at_bounce_mps=float(flights.speed_at_bounce_mps[row]),
                scatter_m=(ellipse.major_m, ellipse.minor_m),
                reach_m=(x_m, y_m),
                net_room_m=float(np.minimum(rooms[0] - lost, second.room_m[number].min())),
                top_m=float(np.maximum(apexes[0] + risen, second.apex_m[number].max())),
            )


class _Table(msgspec.Struct, frozen=True):
    """Flights and what of them is looked at by feed and row."""

    flights: Flights
    landing_m: Array  # (feeds, rows, 2)
    apex_m: Array  # (feeds, rows)
    room_m: Array

    def far_m(self, mouths_m: Array) -> Array:
        """How far from its mouth each ball lands."""
        ground = self.landing_m - mouths_m[:, None, :2]
        distance: Array = np.sqrt(np.sum(ground**2, axis=-1))
        return distance


def _net_room(flights: Flights, conditions: Conditions, net: Net) -> Array:
    """Room between the ball's lower edge and the cord.

    A ball that never gets there has less than none: the height of the net, as in the plan.
    """
    room = flights.net_height_m - conditions.ball.radius_m - net.heights_m(flights.net_x_m)
    short: Array = np.where(np.isfinite(room), room, -net.centre_m)
    return short


def _interleaved(first: Flights, second: Flights, feeds: int) -> Flights:
    """SINGLE rows of the first flights and all JOINT of the second, feed by feed."""
    parts = {}
    for name in Flights.__annotations__:
        one, two = getattr(first, name), getattr(second, name)
        shape = one.shape[:-1]
        kept = one.reshape(*shape, feeds, _FIRST)[..., :SINGLE]
        both = np.concatenate([kept, two.reshape(*shape, feeds, JOINT)], axis=-1)
        parts[name] = both.reshape(*shape, feeds * (SINGLE + JOINT))
    return Flights(**parts)


def _rows(flights: Flights, feed: int) -> Flights:
    """The flights of one feed's throws."""
    own = slice(feed * ROWS, (feed + 1) * ROWS)
    return Flights(*(getattr(flights, name)[..., own] for name in Flights.__struct_fields__))


def _joined(parts: Sequence[Flights]) -> Flights:
    """The flights of one feed after another."""
    names = Flights.__struct_fields__
    return Flights(*(np.concatenate([getattr(p, n) for p in parts], axis=-1) for n in names))
