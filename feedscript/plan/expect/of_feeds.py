"""Expectations of single feeds: over the net, near the place, at a height, inside an area."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice

import numpy as np

from feedscript.flight.bounce import Surface
from feedscript.flight.contact import at_player
from feedscript.flight.motion import land
from feedscript.language.program import ArrivesBetween, BouncesInside, ClearsNet, LandsWithin
from feedscript.plan.actions import SendBall, WatchSpeed
from feedscript.plan.expect.draws import (
    MOST_ACTIONS,
    Array,
    Drawing,
    aimed_ball,
    drawn_balls,
    drawn_run,
)
from feedscript.plan.expect.outcome import CounterExample, Outcome, Standing, fails, passes
from feedscript.plan.expect.wilson import wilson
from feedscript.plan.flying import surface_for
from feedscript.plan.model import AimedFeed, Ellipse

#: How many standard deviations of scatter must lie inside an area: as many as the safety rules.
AREA_SIGMA = 3.0
_ROUND = 72  # points on an ellipse


def feeds_of(drawing: Drawing, name: str | None) -> list[AimedFeed]:
    """The aimed feeds of a wish, or of every one."""
    return [feed for feed in drawing.plan.feeds if name is None or feed.wish == name]


def clears_net(wanted: ClearsNet, drawing: Drawing) -> Outcome:
    """Whether the feed, as aimed, passes that far over the net cord."""
    lowest = min(feeds_of(drawing, wanted.feed), key=lambda feed: feed.net_clearance_m)
    figure = f"{_named(lowest, wanted.feed)}{lowest.net_clearance_m:.2f} m over the net"
    if lowest.net_clearance_m >= wanted.by_m:
        return passes(figure)
    return fails(figure, _first_ball(drawing, lowest, figure))


def arrives_between(wanted: ArrivesBetween, drawing: Drawing) -> Outcome:
    """Whether the feed, as aimed, reaches its receiver at such a height."""
    surface = surface_for(drawing.plan.court)
    if isinstance(surface, str):
        return fails(f"the height cannot be told: {surface}")
    worst: tuple[float, Outcome] | None = None
    for feed in feeds_of(drawing, wanted.feed):
        over, outcome = _arrival(wanted, drawing, feed, surface)
        if worst is None or over > worst[0]:
            worst = (over, outcome)
    assert worst is not None
    return worst[1]


def _arrival(
    wanted: ArrivesBetween, drawing: Drawing, feed: AimedFeed, surface: Surface
) -> tuple[float, Outcome]:
    """How far outside the heights a feed arrives (negative: inside), and what to say of it."""
    named = _named(feed, wanted.feed)
    if feed.receiver_m is None:
        words = f"{named}no place of the receiver is declared, so no height can be told"
        return math.inf, fails(words)
    y_m = feed.receiver_m[1]
    ball = aimed_ball(drawing.plan, feed)
    height_m = float(at_player(ball, y_m, drawing.conditions(feed), surface).place_m[2][0])
    if math.isnan(height_m):
        words = f"{named}the ball does not reach the receiver before its second bounce"
        return math.inf, fails(words, _first_ball(drawing, feed, words))
    figure = f"{named}{height_m:.2f} m high at the receiver"
    over = max(wanted.low_m - height_m, height_m - wanted.high_m)
    if over <= 0:
        return over, passes(figure)
    return over, fails(figure, _first_ball(drawing, feed, figure))


def lands_within(wanted: LandsWithin, drawing: Drawing) -> Outcome:
    """Whether such a share of balls lands so near to the feed's place."""
    outcomes = [_share(wanted, drawing, feed) for feed in feeds_of(drawing, wanted.feed)]
    return min(outcomes, key=lambda outcome: (outcome.interval or (0.0, 0.0))[1])


def _share(wanted: LandsWithin, drawing: Drawing, feed: AimedFeed) -> Outcome:
    away = _away(drawing, feed)
    near = away <= wanted.within_m
    hits, draws = int(near.sum()), len(away)
    low, high = interval = wilson(hits, draws)
    figure = (
        f"{_named(feed, wanted.feed)}{100 * hits / draws:.1f} % of {draws} balls "
        f"(95 % sure: {100 * low:.1f} to {100 * high:.1f} %)"
    )
    if low >= wanted.share:
        return Outcome(Standing.PASSES, figure, None, interval)
    example = None
    if hits < draws:
        ball = int(np.argmin(near))
        words = f"ball {ball + 1} lands {away[ball]:.2f} m from its place"
        example = CounterExample(drawing.seed, ball + 1, words)
    standing = Standing.FAILS if high < wanted.share else Standing.INCONCLUSIVE
    return Outcome(standing, figure, example, interval)


def _away(drawing: Drawing, feed: AimedFeed) -> Array:
    """How far from its place each drawn ball lands; a ball that never lands is nowhere near."""
    x_m, y_m = _landings(drawing, feed)
    away = np.hypot(x_m - feed.landing_m[0], y_m - feed.landing_m[1])
    return np.where(np.isnan(away), np.inf, away)


def _landings(drawing: Drawing, feed: AimedFeed) -> tuple[Array, Array]:
    flights = land(drawn_balls(drawing, feed), drawing.conditions(feed))
    return flights.landing_x_m, flights.landing_y_m


def bounces_inside(wanted: BouncesInside, drawing: Drawing) -> Outcome:
    """Whether the feed's place and its three-sigma ellipse lie inside the area."""
    worst = max(
        feeds_of(drawing, wanted.feed),
        key=lambda feed: _outside_m(_edge(feed.landing_m, feed.scatter), wanted.outline_m),
    )
    over = _outside_m(_edge(worst.landing_m, worst.scatter), wanted.outline_m)
    named = _named(worst, wanted.feed)
    if over <= 0:
        return passes(f"{named}{-over:.2f} m of room at {AREA_SIGMA:g} sigma")
    figure = f"{named}{over:.2f} m outside {wanted.area} at {AREA_SIGMA:g} sigma"
    x_m, y_m = _landings(drawing, worst)
    out = _outside(np.stack([x_m, y_m], axis=-1), wanted.outline_m) > 0
    if not out.any():
        return fails(figure)
    ball = int(np.argmax(out))
    words = f"ball {ball + 1} bounces at ({x_m[ball]:.2f}, {y_m[ball]:.2f}) m"
    return fails(figure, CounterExample(drawing.seed, ball + 1, words))


def _edge(centre_m: tuple[float, float], ellipse: Ellipse) -> Array:
    """Points around the ellipse of ``AREA_SIGMA``, (n, 2)."""
    angles = np.arange(_ROUND) * (2 * np.pi / _ROUND)
    turn = math.radians(ellipse.turn_deg)
    along = AREA_SIGMA * ellipse.major_m * np.cos(angles)
    across = AREA_SIGMA * ellipse.minor_m * np.sin(angles)
    x_m = centre_m[0] + along * math.cos(turn) - across * math.sin(turn)
    y_m = centre_m[1] + along * math.sin(turn) + across * math.cos(turn)
    return np.stack([x_m, y_m], axis=-1)


def _outside_m(points: Array, outline: Sequence[tuple[float, float]]) -> float:
    return float(_outside(points, outline).max())


def _outside(points: Array, outline: Sequence[tuple[float, float]]) -> Array:
    """How far outside the outline each point (n, 2) lies; negative inside; inf for nowhere."""
    import shapely

    area = shapely.Polygon(outline)
    spots = shapely.points(np.nan_to_num(points, nan=1e9))
    within = shapely.contains(area, spots)
    away = shapely.distance(area.exterior, spots)
    return np.asarray(np.where(within, -away, away), dtype=np.float64)


def _named(feed: AimedFeed, wanted: str | None) -> str:
    """The feed's own name, where the expectation's does not say which one it was."""
    return "" if feed.name == wanted else f"{feed.name}: "


def _first_ball(drawing: Drawing, feed: AimedFeed, words: str) -> CounterExample | None:
    """The first ball of this feed in the run of the drawing's seed, if it is sent there."""
    for action in islice(drawn_run(drawing.plan, drawing.seed), MOST_ACTIONS):
        if isinstance(action, SendBall | WatchSpeed) and drawing.plan.feeds[action.feed] is feed:
            return CounterExample(drawing.seed, action.ball, words)
    return None
