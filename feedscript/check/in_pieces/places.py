"""Where drawn balls may not come: every area, the fence, the roof, and the other stations' balls.

The rules prove this with corridors; here nothing of a corridor is used. Each drawn ball is followed
to its second bounce, on every surface that there may be, in short straight stretches.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.check.in_pieces.pieces import Count
from feedscript.flight.ball import ball_named
from feedscript.flight.bounce import rebound
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array, Mask
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import Flights, land
from feedscript.flight.motion.tracks import track
from feedscript.safety.analysis.areas import Stay
from feedscript.safety.analysis.limit import Limit
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.hazards.surfaces import surfaces
from feedscript.safety.rules import (
    crossing_corridors,
    into_keep_out,
    into_neighbour,
    over_fence,
    past_other_players,
    through_launcher,
    under_roof,
)

_POINTS = 32
#: A ball is round: below a height that its middle is over, it is narrower. As shares of its radius,
#: how far its middle may be over, and how wide it then is at least.
_ROUND = ((0.0, 1.0), (0.7, 0.7))

#: Ways seen from above: (ball, point, 2).
Ground: TypeAlias = NDArray[np.float32]
#: Which of some balls came where they may not: ways (ball, point, 3) and the ball's radius in m.
_Broken: TypeAlias = Callable[[Array, float], Mask]


class Kept(msgspec.Struct, frozen=True):
    """One thing that a feed's balls keep away from."""

    what: str
    broken: _Broken


class Drawn(msgspec.Struct, frozen=True):
    """Balls of one feed, strayed and flown to their first bounce."""

    launches: Launches
    flights: Flights
    conditions: Conditions


class Places(msgspec.Struct, frozen=True):
    """All that the feeds of a plan keep away from, and the pairs that do from each other."""

    facts: PlanFacts
    kept: Mapping[int, Sequence[Kept]]
    pairs: Sequence[tuple[int, int]]

    @classmethod
    def of(cls, facts: PlanFacts) -> Places:
        return cls(facts, _kept(facts), sorted(facts.at_once))

    def look(self, feed: int, drawn: Drawn) -> tuple[list[Count], Ground | None]:
        """How many of these balls of a feed came where they may not, for each such place; and
        their ways seen from above, of a feed that keeps away from others."""
        meets = any(feed in pair for pair in self.pairs)
        if not self.kept[feed] and not meets:
            return [], None
        ways = list(_followed(self.facts, drawn))
        counts = []
        for one in self.kept[feed]:
            # Which surface it is, is not chance: the worst counts.
            broken = [one.broken(each, drawn.conditions.ball.radius_m) for each in ways]
            counts.append((one.what, len(broken[0]), max(int(each.sum()) for each in broken)))
        return counts, self._seen(ways) if meets else None

    def ground(self, drawn: Drawn) -> Ground:
        """Their ways seen from above alone."""
        return self._seen(list(_followed(self.facts, drawn)))

    @staticmethod
    def _seen(ways: Sequence[Array]) -> Ground:
        return np.concatenate([each[..., :2] for each in ways]).astype(np.float32)

    def meeting(self, one: Ground, other: Ground) -> Count:
        """Each ball of a feed beside one of a feed of another station.

        Seen from above and whatever the moment, as the rule keeps them apart.
        """
        kept_m = self.facts.limit(crossing_corridors.PAGE.slug, crossing_corridors.LIMIT)
        ball = ball_named(self.facts.plan.balls.kind)
        near = _meet(one, other, kept_m + 2 * ball.radius_m)
        return "came too near a ball of the station beside", len(near), int(near.sum())


def _kept(facts: PlanFacts) -> Mapping[int, Sequence[Kept]]:
    """All that each feed keeps away from, by its index."""
    found: dict[int, list[Kept]] = {index: [] for index in range(len(facts.plan.feeds))}
    for what, stays, limit in _areas(facts):
        for stay in stays:
            found[stay.feed].append(Kept(what, _near(stay, limit)))
    court = facts.plan.court
    for each in found.values():
        if court.roof_m is not None:
            top = court.roof_m - facts.limit(under_roof.PAGE.slug, under_roof.LIMIT)
            each.append(Kept("came too near the roof", _above(top)))
        if court.fence_height_m is not None and court.fence_behind_baseline_m is not None:
            top = court.fence_height_m - facts.limit(over_fence.PAGE.slug, over_fence.LIMIT)
            plane = facts.court.half_length_m + court.fence_behind_baseline_m
            each.append(Kept("came too high at the fence", _beyond(plane, top)))
    return found


def _areas(facts: PlanFacts) -> Iterator[tuple[str, Sequence[Stay], float]]:
    """What breaks each rule of areas, the pairs of feed and area, and how far off is kept."""

    def limit(slug: str, one: Limit) -> float:
        return facts.limit(slug, one)

    for what, rule in (
        ("came too near a keep-out", into_keep_out),
        ("entered the court beside", into_neighbour),
        ("came too near another launcher", through_launcher),
        ("came too near another station's players", past_other_players),
    ):
        yield what, rule.stays(facts), limit(rule.PAGE.slug, rule.LIMIT)


def _followed(facts: PlanFacts, drawn: Drawn) -> Iterator[Array]:
    """The balls' ways to their second bounce, (ball, point, 3), on each surface there may be."""
    flights, conditions = drawn.flights, drawn.conditions
    before = track(drawn.launches, conditions, _POINTS, flights.flight_s).place_m
    for surface in surfaces(facts.plan.court):
        release = rebound(flights, conditions, surface).release
        after = track(release, conditions, _POINTS, land(release, conditions).flight_s).place_m
        yield np.concatenate([before, after], axis=1)


def _near(stay: Stay, limit_m: float) -> _Broken:
    outline = np.array(stay.area.outline_m)
    height_m = math.inf if stay.area.height_m is None else stay.area.height_m

    def broken(ways: Array, radius_m: float) -> Mask:
        found = np.zeros(len(ways), dtype=bool)
        for over, wide in _ROUND:
            top, reach = height_m + over * radius_m, limit_m + wide * radius_m
            found |= _within(ways, outline, top, reach)
        return found

    return broken


def _within(ways: Array, outline: Array, top_m: float, reach_m: float) -> Mask:
    """Which ways come within ``reach_m`` of an area where they are lower than ``top_m``."""
    import shapely  # costs 30 ms, and only samples of programs with areas need it

    found = np.zeros(len(ways), dtype=bool)
    starts, ends = ways[:, :-1], ways[:, 1:]
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    near = np.all(
        (high[..., :2] > outline.min(axis=0) - reach_m)
        & (low[..., :2] < outline.max(axis=0) + reach_m),
        axis=-1,
    ) & (low[..., 2] < top_m)
    balls, pieces = np.nonzero(near)
    if balls.size:
        lines = _below(starts[balls, pieces], ends[balls, pieces], top_m)
        gaps = shapely.distance(shapely.linestrings(lines), shapely.Polygon(outline))
        found[balls[gaps < reach_m]] = True
    return found


def _below(starts: Array, ends: Array, top_m: float) -> Array:
    """The part of straight stretches that is lower than a height, seen from above: (n, 2, 2)."""
    fall = ends[:, 2] - starts[:, 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = np.clip((top_m - starts[:, 2]) / fall, 0.0, 1.0)
    first = np.where(starts[:, 2] < top_m, 0.0, crossing)
    last = np.where(ends[:, 2] < top_m, 1.0, crossing)
    way = (ends - starts)[:, :2]
    lines: Array = np.stack(
        [starts[:, :2] + first[:, None] * way, starts[:, :2] + last[:, None] * way], axis=1
    )
    return lines


def _above(top_m: float) -> _Broken:
    def broken(ways: Array, radius_m: float) -> Mask:
        high: Mask = ways[..., 2].max(axis=1) + radius_m > top_m
        return high

    return broken


def _beyond(plane_m: float, top_m: float) -> _Broken:
    def broken(ways: Array, radius_m: float) -> Mask:
        y, z = ways[..., 1], ways[..., 2]
        passes = (y[:, :-1] < plane_m) != (y[:, 1:] < plane_m)
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (plane_m - y[:, :-1]) / (y[:, 1:] - y[:, :-1])
        there = z[:, :-1] + share * (z[:, 1:] - z[:, :-1])
        high: Mask = np.any(passes & (there + radius_m > top_m), axis=1)
        return high

    return broken


def _meet(one: Ground, other: Ground, reach_m: float) -> Mask:
    """Which pairs of balls have ways that come nearer; the shorter list begins again."""
    import shapely

    count = max(len(one), len(other))
    ways = [np.resize(each, (count, *each.shape[1:])) for each in (one, other)]
    met = _boxes_within(ways[0], ways[1], reach_m)
    lines = [shapely.linestrings(way[met]) for way in ways]
    met[met] = shapely.distance(lines[0], lines[1]) < reach_m
    return met


def _boxes_within(one: Ground, other: Ground, reach_m: float) -> Mask:
    """Which pairs of ways have boxes that are nearer to each other than that."""
    gap = np.maximum(one.min(axis=1) - other.max(axis=1), other.min(axis=1) - one.max(axis=1))
    close: Mask = np.all(gap < reach_m, axis=1)
    return close
