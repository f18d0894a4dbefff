"""One feed aimed at every place of the receiver's court: how it would fly if it landed elsewhere.

Between the places of the grid a flight is read off those around it, so that a picture can follow a
hand without asking again.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Span
from feedscript.flight.bounce import Surface, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array
from feedscript.flight.motion.flights import land
from feedscript.flight.motion.tracks import ways
from feedscript.language.program import FeedWish
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.throw import Throw
from feedscript.memo import Memo, content
from feedscript.plan.aiming.aimed import scatter_of
from feedscript.plan.aiming.flying import conditions_for, surface_for
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import Stand
from feedscript.plan.aiming.solving import solve
from feedscript.plan.model import AimedFeed, Ellipse, Plan

#: How far apart the places of the grid are about: with a cubic between them a path is good to 2 cm
#: (held by a test).
_ACROSS_M, _ALONG_M = 2.2, 0.75
_NEAREST_M, _AROUND_M = 0.75, 1.5
#: Points of each way, to the first bounce and on from it.
POINTS, POINTS_AFTER = 32, 20


class FlightThere(msgspec.Struct, frozen=True, eq=False):
    """How the feed would fly to one place: points (n, 3) in court axes."""

    path_m: Array
    after_m: Array | None  # None where the bounce is not known
    scatter: Ellipse


class Field(msgspec.Struct, frozen=True, eq=False):
    """Flights by place, those of one x after another; None where it cannot land."""

    xs_m: tuple[float, ...]
    ys_m: tuple[float, ...]
    flights: tuple[FlightThere | None, ...]


def field(
    wish: FeedWish, feed: AimedFeed, plan: Plan, profiles: Sequence[Profile], memo: Memo
) -> Field:
    """Where else a plan's ``feed``, made of ``wish``, might land, and how it would get there."""
    profile, launcher = profiles[feed.launcher], plan.launchers[feed.launcher]
    nowhere = Span("", 0, 0, 0, 0)
    bare = msgspec.structs.replace(
        wish, name="", land_m=(0.0, 0.0), span=nowhere, spans=dict.fromkeys(wish.spans, nowhere)
    )
    stand = Stand(
        feed.launcher,
        launcher,
        profile,
        conditions_for(plan.court, plan.balls, profile),
        COURTS[plan.court.kind],
        surface_for(plan.court),
    )
    return memo.one("field", content(bare, stand), lambda: _field(bare, stand, memo))


def _field(wish: FeedWish, stand: Stand, memo: Memo) -> Field:
    wide = (stand.lines.doubles_half_width_m or stand.lines.half_width_m) + _AROUND_M
    far = stand.lines.half_length_m + _AROUND_M
    xs = np.linspace(-wide, wide, round(2 * wide / _ACROSS_M) + 1).tolist()
    ys = np.linspace(_NEAREST_M, far, round((far - _NEAREST_M) / _ALONG_M) + 1).tolist()
    places = [(x, y) for x in xs for y in ys]
    shots = [
        Shot("", msgspec.structs.replace(wish, land_m=place), stand.launcher, 0) for place in places
    ]
    solved = solve(shots, stand, memo.go_on)
    memo.go_on()
    reached = [index for index, one in enumerate(solved) if one.missed is None]
    flights: list[FlightThere | None] = [None] * len(places)
    if reached:
        throws = [solved[index].throw for index in reached]
        scatters = []
        for index, throw in zip(reached, throws, strict=True):
            aims = solved[index].aims
            assert aims is not None
            scatters.append(scatter_of(aims, solved[index].row, stand, throw))
        for index, flight in zip(reached, _flown(throws, scatters, stand, memo), strict=True):
            flights[index] = flight
    return Field(tuple(xs), tuple(ys), tuple(flights))


def _flown(
    throws: Sequence[Throw], scatters: Sequence[Ellipse], stand: Stand, memo: Memo
) -> list[FlightThere]:
    x_m, y_m, z_m = stand.placed.mouth_m
    launches = Launches.of(
        [one.speed_mps for one in throws],
        [one.elevation_deg for one in throws],
        [one.azimuth_deg for one in throws],
        top_rpm=[one.top_rpm for one in throws],
        side_rpm=[one.side_rpm for one in throws],
        x_m=x_m,
        y_m=y_m,
        z_m=z_m,
    ).thrown_by_wheels()
    memo.go_on()
    flights = land(launches, stand.conditions)
    memo.go_on()
    paths = ways(launches, stand.conditions, flights.flight_s).read(POINTS).place_m
    after: Sequence[Array | None] = [None] * len(throws)
    if isinstance(stand.surface, Surface):
        release = rebound(flights, stand.conditions, stand.surface).release
        memo.go_on()
        after = list(ways(release, stand.conditions).read(POINTS_AFTER).place_m)
    return [FlightThere(*parts) for parts in zip(paths, after, scatters, strict=True)]
