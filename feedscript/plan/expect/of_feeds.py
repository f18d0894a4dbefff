"""Expectations of single feeds: over the net, near the place, at a height, inside an area.

Each is held against every aimed feed of its name that the lesson can send: the variants, those of
every launcher, and the mirror images that left-handers get.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice

import numpy as np

from feedscript.flight.bounce import Surface
from feedscript.flight.contact import at_player
from feedscript.language.program import (
    ArrivesBetween,
    BouncesInside,
    ClearsNet,
    LandsWithin,
    Program,
)
from feedscript.plan.aiming.flying import surface_for
from feedscript.plan.expect.draws import (
    MOST_ACTIONS,
    Array,
    Drawing,
    aimed_ball,
    drawn_run,
)
from feedscript.plan.expect.outcome import (
    About,
    CounterExample,
    ExpectationStanding,
    Outcome,
    WorstCase,
    fails,
    passes,
    undecided,
)
from feedscript.plan.expect.score_interval import score_interval
from feedscript.plan.expect.sent import left_handers, never_sent, spoken_of
from feedscript.plan.interpreter.actions import SendBall, WatchSpeed
from feedscript.plan.model import AimedFeed

_ROUND = 72  # points on an ellipse


def clears_net(wanted: ClearsNet, drawing: Drawing, program: Program) -> Outcome:
    """Whether the feed passes that far over the net cord: every ball of it, or the aimed one."""
    spoken = spoken_of(drawing.plan, program, wanted.feed)
    if not spoken:
        return never_sent(wanted.feed)
    feeds, scatter = drawing.plan.feeds, drawing.scatter
    rooms = {
        index: feeds[index].net_clearance_m if wanted.aimed else scatter.net_room_m(index)
        for index in spoken
    }
    lowest = min(rooms, key=rooms.__getitem__)
    figure = f"{_named(feeds[lowest], wanted.feed)}{rooms[lowest]:.2f} m over the net, "
    figure += _of_which(drawing, aimed=wanted.aimed)
    room_m = rooms[lowest]
    worst = WorstCase(
        about=About.NET, feed=lowest, got_m=(room_m, room_m), asked_m=(wanted.by_m, None)
    )
    if room_m >= wanted.by_m:
        return passes(figure, worst)
    return fails(figure, _first_ball(drawing, lowest, figure), worst)


def _of_which(drawing: Drawing, *, aimed: bool) -> str:
    """Which balls a figure is of."""
    return "as aimed" if aimed else f"at the worst end of {drawing.scatter.sigma:g} sigma"


def arrives_between(wanted: ArrivesBetween, drawing: Drawing, program: Program) -> Outcome:
    """Whether the feed reaches its receiver so high: every ball of it, or the aimed one."""
    spoken = spoken_of(drawing.plan, program, wanted.feed)
    if not spoken:
        return never_sent(wanted.feed)
    surface = surface_for(drawing.plan.court)
    if isinstance(surface, str):
        return fails(f"the height cannot be told: {surface}")
    outcomes = [_arrival(wanted, drawing, index, surface) for index in spoken]
    return max(outcomes, key=lambda found: found[0])[1]


def _arrival(
    wanted: ArrivesBetween, drawing: Drawing, index: int, surface: Surface
) -> tuple[float, Outcome]:
    """How far outside the heights a feed arrives (negative: inside), and what to say of it."""
    feed = drawing.plan.feeds[index]
    named = _named(feed, wanted.feed)
    if feed.receiver_m is None:
        words = f"{named}no place of the receiver is declared, so no height can be told"
        return math.inf, fails(words)
    low_m, high_m = _heights_m(wanted, drawing, index, surface)
    if math.isnan(low_m) or math.isnan(high_m):
        which = "the ball does" if wanted.aimed else "some balls do"
        words = f"{named}{which} not reach the receiver before the second bounce"
        worst = WorstCase(about=About.ARRIVES, feed=index, asked_m=(wanted.low_m, wanted.high_m))
        return math.inf, fails(words, _first_ball(drawing, index, words), worst)
    span = f"{low_m:.2f} m" if wanted.aimed else f"{low_m:.2f} to {high_m:.2f} m"
    figure = f"{named}{span} high at the receiver, {_of_which(drawing, aimed=wanted.aimed)}"
    over = max(wanted.low_m - low_m, high_m - wanted.high_m)
    asked_m = wanted.low_m, wanted.high_m
    worst = WorstCase(about=About.ARRIVES, feed=index, got_m=(low_m, high_m), asked_m=asked_m)
    if over <= 0:
        return over, passes(figure, worst)
    return over, fails(figure, _first_ball(drawing, index, figure), worst)


def _heights_m(
    wanted: ArrivesBetween, drawing: Drawing, index: int, surface: Surface
) -> tuple[float, float]:
    if not wanted.aimed:
        return drawing.scatter.heights_m(index)
    feed = drawing.plan.feeds[index]
    assert feed.receiver_m is not None
    met = at_player(
        aimed_ball(drawing.plan, feed), feed.receiver_m[1], drawing.conditions(feed), surface
    )
    height_m = float(met.place_m[2][0])
    return height_m, height_m


def lands_within(wanted: LandsWithin, drawing: Drawing, program: Program) -> Outcome:
    """Whether such a share of balls lands so near to the feed's place."""
    spoken = spoken_of(drawing.plan, program, wanted.feed)
    if not spoken:
        return never_sent(wanted.feed)
    if not drawing.draws:
        widest = max(spoken, key=lambda index: drawing.plan.feeds[index].scatter.major_m)
        return undecided("only drawn balls can tell", _near(wanted, widest))
    outcomes = [_share(wanted, drawing, index) for index in spoken]
    return min(outcomes, key=lambda outcome: (outcome.interval or (0.0, 0.0))[1])


def _near(wanted: LandsWithin, index: int) -> WorstCase:
    return WorstCase(about=About.WITHIN, feed=index, asked_m=(0.0, wanted.within_m))


def _share(wanted: LandsWithin, drawing: Drawing, index: int) -> Outcome:
    feed, worst = drawing.plan.feeds[index], _near(wanted, index)
    away = _away(drawing, index)
    near = away <= wanted.within_m
    hits, draws = int(near.sum()), len(away)
    low, high = interval = score_interval(hits, draws)
    figure = (
        f"{_named(feed, wanted.feed)}{100 * hits / draws:.1f} % of {draws} balls "
        f"(95 % sure: {100 * low:.1f} to {100 * high:.1f} %)"
    )
    if low >= wanted.share:
        return Outcome(ExpectationStanding.PASSES, figure, None, interval, worst)
    example = None
    if hits < draws:
        ball = int(np.argmin(near))
        words = f"ball {ball + 1} lands {away[ball]:.2f} m from its place"
        example = CounterExample(drawing.seed, ball + 1, words)
    standing = (
        ExpectationStanding.FAILS if high < wanted.share else ExpectationStanding.INCONCLUSIVE
    )
    return Outcome(standing, figure, example, interval, worst)


def _away(drawing: Drawing, index: int) -> Array:
    """How far from its place each drawn ball lands; a ball that never lands is nowhere near."""
    x_m, y_m = drawing.landings(index)
    x_0, y_0 = drawing.plan.feeds[index].landing_m
    away = np.hypot(x_m - x_0, y_m - y_0)
    return np.where(np.isnan(away), np.inf, away)


def bounces_inside(wanted: BouncesInside, drawing: Drawing, program: Program) -> Outcome:
    """Whether the feed's place and the ellipse of its stated scatter lie inside the area.

    The area is mirrored for a left-hander's mirror image, as the feed itself is.
    """
    spoken = spoken_of(drawing.plan, program, wanted.feed)
    if not spoken:
        return never_sent(wanted.feed)
    feeds, mirrored = drawing.plan.feeds, left_handers(drawing.plan, program)
    areas = {index: _area(wanted.outline_m, mirror=index in mirrored) for index in spoken}
    sigma = drawing.scatter.sigma
    beyond = {index: _outside_m(_edge(feeds[index], sigma), areas[index]) for index in spoken}
    index = max(beyond, key=beyond.__getitem__)
    feed, over = feeds[index], beyond[index]
    named = _named(feed, wanted.feed)
    worst = WorstCase(about=About.INSIDE, feed=index, outline_m=tuple(areas[index]), sigma=sigma)
    if over <= 0:
        return passes(f"{named}{-over:.2f} m of room at {sigma:g} sigma", worst)
    figure = f"{named}{over:.2f} m outside {wanted.area} at {sigma:g} sigma"
    if not drawing.draws:
        return fails(figure, worst=worst)
    x_m, y_m = drawing.landings(index)
    out = _outside(np.stack([x_m, y_m], axis=-1), areas[index]) > 0
    if not out.any():
        return fails(figure, worst=worst)
    ball = int(np.argmax(out))
    words = f"ball {ball + 1} bounces at ({x_m[ball]:.2f}, {y_m[ball]:.2f}) m"
    return fails(figure, CounterExample(drawing.seed, ball + 1, words), worst)


def _area(outline_m: Sequence[tuple[float, float]], *, mirror: bool) -> list[tuple[float, float]]:
    return [(-x_m if mirror else x_m, y_m) for x_m, y_m in outline_m]


def _edge(feed: AimedFeed, sigma: float) -> Array:
    """Points around the ellipse of so many standard deviations about a landing, (n, 2)."""
    (x_0, y_0), ellipse = feed.landing_m, feed.scatter
    angles = np.arange(_ROUND) * (2 * np.pi / _ROUND)
    turn = math.radians(ellipse.turn_deg)
    along = sigma * ellipse.major_m * np.cos(angles)
    across = sigma * ellipse.minor_m * np.sin(angles)
    x_m = x_0 + along * math.cos(turn) - across * math.sin(turn)
    y_m = y_0 + along * math.sin(turn) + across * math.cos(turn)
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


def _first_ball(drawing: Drawing, index: int, words: str) -> CounterExample | None:
    """The first ball of this feed in the run of the drawing's seed, if it is sent there."""
    if not drawing.draws:
        return None
    for action in islice(drawn_run(drawing.plan, drawing.seed), MOST_ACTIONS):
        if isinstance(action, SendBall | WatchSpeed) and action.feed == index:
            return CounterExample(drawing.seed, action.ball, words)
    return None
