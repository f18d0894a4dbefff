"""A checked lesson as the desk's page plays it: which ball leaves when, and where it then is.

It is the plan's own run, in which every player takes as many balls as the program allows. What
people take of time (collecting, arming, watching a speed) is not in it, as nobody knows it before;
the page shows where it falls and goes on. The same lesson rehearsed through engine and wire has the
same times between those stops, and takes seconds where this takes milliseconds.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.bounce import Surface
from feedscript.flight.motion.tracks import Tracks
from feedscript.plan.aiming.flying import surface_for
from feedscript.plan.model import AimedFeed
from feedscript.review.drawing.timeline import TimeLine, longest_run
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.tongues import terms

Place = tuple[float, float, float]

#: Places of a way, evenly in time. Between two of them, 33 ms apart in a flight of 1.3 s, a chord
#: is at most g t^2 / 8 = 1.3 mm below the ball: nothing on a screen.
_POINTS, _POINTS_AFTER = 41, 21
#: From so many feeds on a way has fewer, so that the message stays small.
_MANY_FEEDS = 200
_FEW_POINTS, _FEW_POINTS_AFTER = 17, 9


class PlayedFeed(msgspec.Struct, frozen=True, kw_only=True):
    """A feed's ball from the mouth to the bounce, and on to the second one where that is known.

    Both ways are evenly in time, in court axes. ``scatter``: one sigma about the landing, half axes
    in metres and their turn in degrees.
    """

    index: int
    wish: str
    landing_m: tuple[float, float]
    scatter: tuple[float, float, float]
    flight_s: float
    path_m: tuple[Place, ...]
    after_s: float
    after_m: tuple[Place, ...]


class PlayedBall(msgspec.Struct, frozen=True, array_like=True):
    """A ball that leaves: when, of which feed, whose (index into the players), and how.

    ``watched``: with nobody in front, for its speed to be seen; ``request``: when it is asked for.
    """

    at_s: float
    feed: int
    player: int | None
    watched: bool
    request: bool


class PlayedPart(msgspec.Struct, frozen=True):
    """An exercise from when to when."""

    begin_s: float
    end_s: float
    number: int
    title: str


class PlayedStop(msgspec.Struct, frozen=True):
    """The launcher is off; ``begin_s`` = ``end_s`` where only people know how long."""

    begin_s: float
    end_s: float
    words: str


class PlayedStay(msgspec.Struct, frozen=True, array_like=True):
    """A player is on, or at work without a launcher."""

    begin_s: float
    end_s: float
    player: int
    work: bool


class PlayedCall(msgspec.Struct, frozen=True, array_like=True):
    """Words for everybody."""

    at_s: float
    words: str


class Played(msgspec.Struct, frozen=True, kw_only=True):
    """A whole lesson. ``version`` is that of the words which it was made from."""

    version: str
    end_s: float
    players: tuple[str, ...]
    feeds: tuple[PlayedFeed, ...]
    balls: tuple[PlayedBall, ...]
    parts: tuple[PlayedPart, ...]
    stops: tuple[PlayedStop, ...]
    stays: tuple[PlayedStay, ...]
    calls: tuple[PlayedCall, ...]


def played(facts: PlanFacts, version: str) -> Played:
    """The run of a plan that passed, with the flights that the check has worked out."""
    run = longest_run(facts.plan)
    feeds = _feeds(facts, {ball.feed for ball in run.balls})
    down_s = {one.index: one.flight_s + one.after_s for one in feeds}
    lasts_s = max((ball.at_s + down_s[ball.feed] for ball in run.balls), default=0.0)
    return Played(
        version=version,
        end_s=max(run.end_s, lasts_s),
        players=run.players,
        feeds=feeds,
        balls=_balls(run),
        parts=tuple(PlayedPart(p.begin_s, p.end_s, p.number, str(p.title)) for p in run.parts),
        stops=tuple(PlayedStop(s.begin_s, s.end_s, s.words) for s in run.stops),
        stays=tuple(PlayedStay(s.begin_s, s.end_s, s.player, s.work) for s in run.stays),
        calls=tuple(PlayedCall(c.at_s, c.words) for c in run.calls),
    )


def _balls(run: TimeLine) -> tuple[PlayedBall, ...]:
    in_time = sorted(run.balls, key=lambda ball: ball.at_s)
    return tuple(PlayedBall(b.at_s, b.feed, b.player, b.watched, b.request) for b in in_time)


def _feeds(facts: PlanFacts, sent: set[int]) -> tuple[PlayedFeed, ...]:
    plan, known = facts.plan, surface_for(facts.plan.court)
    surface = known if isinstance(known, Surface) else None
    few = len(plan.feeds) > _MANY_FEEDS
    points, points_after = (_FEW_POINTS, _FEW_POINTS_AFTER) if few else (_POINTS, _POINTS_AFTER)
    found = []
    for throws in (batch.throws for batch in facts.batches):
        before = throws.before(points, surface)
        after = None if surface is None else throws.after(surface, points_after)
        for row, index in enumerate(throws.feeds):
            if index in sent:
                feed = plan.feeds[index]
                found.append(_feed(index, feed, _way(before, row), _way(after, row)))
    return tuple(sorted(found, key=lambda one: one.index))


def _feed(index: int, feed: AimedFeed, before: _Way, after: _Way) -> PlayedFeed:
    return PlayedFeed(
        index=index,
        wish=terms.feed(feed.wish or feed.name),
        landing_m=feed.landing_m,
        scatter=(feed.scatter.major_m, feed.scatter.minor_m, feed.scatter.turn_deg),
        flight_s=before.lasts_s,
        path_m=before.places_m,
        after_s=after.lasts_s,
        after_m=after.places_m,
    )


class _Way(msgspec.Struct, frozen=True):
    """One ball's way, to the millimetre; nothing of one that does not come down."""

    lasts_s: float = 0.0
    places_m: tuple[Place, ...] = ()


def _way(tracks: Tracks | None, row: int) -> _Way:
    if tracks is None or not np.isfinite(tracks.place_m[row]).all():
        return _Way()
    places = np.round(tracks.place_m[row], 3).tolist()
    return _Way(round(float(tracks.time_s[row, -1]), 4), tuple((x, y, z) for x, y, z in places))
