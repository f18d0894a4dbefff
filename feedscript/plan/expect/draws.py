"""Balls drawn from a launcher's dispersion, and runs drawn from a plan's chance.

Every draw can be had again from its seed: balls are numbered from 1 in the order of their draw.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import Protocol

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.launches import Launches
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import land
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.scatter import MOUTH_QUANTITIES, mouth_sigmas
from feedscript.launcher.throw import Throw
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    BeginExercise,
    Reply,
    SendBall,
    WatchSpeed,
)
from feedscript.plan.interpreter.chance import Chance, stream
from feedscript.plan.interpreter.conditions import BallResult, answer
from feedscript.plan.interpreter.players import DrawnPlayer
from feedscript.plan.interpreter.runs import any_stands, run_through
from feedscript.plan.model import AimedFeed, Exercise, Plan

Array = NDArray[np.float64]

#: So many actions are drawn in looking for a run that breaks an expectation.
MOST_ACTIONS = 300_000


class Scatter(Protocol):
    """What every ball of a feed does within the stated scatter, as the rules work it out."""

    @property
    def sigma(self) -> float:
        """How many standard deviations the stated scatter reaches."""

    def net_room_m(self, feed: int) -> float:
        """The least room between the ball's lower edge and the cord."""

    def heights_m(self, feed: int) -> tuple[float, float]:
        """Least and greatest height of the ball's middle at its receiver; NaN: not every ball
        gets there before its second bounce."""


class Drawing(msgspec.Struct, frozen=True):
    """What expectations are held against: a plan on its launchers, what its balls do within the
    stated scatter, so many drawn balls (none: only what needs no draws is told), and the seed."""

    plan: Plan
    profiles: Sequence[Profile]
    scatter: Scatter
    draws: int
    seed: int
    #: Landings of its draws that are worked out already, x and y in m, by feed.
    landed: Mapping[int, tuple[Array, Array]] = {}

    def landings(self, feed: int) -> tuple[Array, Array]:
        """Where the drawn balls of a feed land, x and y in m."""
        found = self.landed.get(feed)
        return landings(self, feed) if found is None else found

    def conditions(self, feed: AimedFeed) -> Conditions:
        """In which this feed flies."""
        return conditions_for(self.plan.court, self.plan.balls, self.profiles[feed.launcher])


def normals(chance: Chance, rows: int, columns: int) -> Array:
    """Standard normal numbers (Box and Muller, Ann. Math. Stat. 29, 1958, 610-611).

    More rows begin with the same rows: a ball is the same however many are drawn after it.
    """
    count = rows * columns
    uniform = chance.many(2 * ((count + 1) // 2)).reshape(-1, 2)
    # One minus a number below one is never zero, whose logarithm there is none of.
    radius = np.sqrt(-2.0 * np.log1p(-uniform[:, 0]))
    turn = 2.0 * np.pi * uniform[:, 1]
    drawn = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=-1)
    return drawn.reshape(-1)[:count].reshape(rows, columns)


def drawn_balls(
    drawing: Drawing, feed: AimedFeed, start: int = 0, balls: int | None = None
) -> Launches:
    """So many balls of one feed (all, if not said) as its launcher scatters them, from its ball
    number ``start`` (0 is the first; an even number: normal numbers come in pairs)."""
    throw = Throw(
        speed_mps=feed.speed_mps,
        elevation_deg=feed.elevation_deg,
        azimuth_deg=feed.azimuth_deg,
        top_rpm=feed.top_rpm,
        side_rpm=feed.side_rpm,
    )
    columns = len(MOUTH_QUANTITIES)
    chance = stream(drawing.seed, "balls", feed.name)
    chance.skip(start * columns)
    sigmas = mouth_sigmas(drawing.profiles[feed.launcher], throw)
    drawn = normals(chance, drawing.draws if balls is None else balls, columns)
    return _thrown(drawing.plan, feed, sigmas * drawn)


def landings(
    drawing: Drawing, index: int, start: int = 0, balls: int | None = None
) -> tuple[Array, Array]:
    """Where those balls of a feed land, x and y in m; NaN for one that never does. A ball is the
    same whatever is drawn with it."""
    feed = drawing.plan.feeds[index]
    flights = land(drawn_balls(drawing, feed, start, balls), drawing.conditions(feed))
    return flights.landing_x_m, flights.landing_y_m


def aimed_ball(plan: Plan, feed: AimedFeed) -> Launches:
    """The one ball that the feed is aimed as."""
    return _thrown(plan, feed, np.zeros((1, 5)))


def _thrown(plan: Plan, feed: AimedFeed, strays: Array) -> Launches:
    """Balls of a feed, each with its stray (n, 5) in the order of ``MOUTH_QUANTITIES``."""
    x_m, y_m, z_m = plan.launchers[feed.launcher].mouth_m
    launches = Launches.of(
        np.maximum(feed.speed_mps + strays[:, 0], 0.1),  # a ball never flies backwards
        feed.elevation_deg + strays[:, 1],
        feed.azimuth_deg + strays[:, 2],
        top_rpm=feed.top_rpm + strays[:, 3],
        side_rpm=feed.side_rpm + strays[:, 4],
        x_m=x_m,
        y_m=y_m,
        z_m=z_m,
    )
    return launches.thrown_by_wheels()


def drawn_run(plan: Plan, seed: int) -> Iterator[Action]:
    """One run of the plan under this seed, with players who are as good as the seed has them."""
    everyone = DrawnPlayer(seed)
    record: list[BallResult] = []
    exercises = [step for step in plan.steps if isinstance(step, Exercise)]
    target = False

    def reply(action: Action) -> Reply:
        nonlocal target
        if isinstance(action, BeginExercise):
            target = exercises[action.number - 1].target is not None
        if isinstance(action, Ask):
            return answer(action, record)
        if isinstance(action, SendBall | WatchSpeed):
            result = everyone.shot(target=target)
            player = action.player if isinstance(action, SendBall) else None
            record.append(BallResult(action.launcher, action.ball, action.feed, result, player))
        return None

    stands = any_stands(plan, stream(seed, "stands"))
    yield from run_through(msgspec.structs.replace(plan, seed=seed), reply, stands=stands)


def drawn_runs(drawing: Drawing, most: int = 200) -> Iterator[tuple[int, list[Action]]]:
    """Runs under the drawing's seed and those after it, each with its seed.

    There are fewer, or none, where runs are so long that drawing more would take minutes.
    """
    left = MOST_ACTIONS
    for seed in range(drawing.seed, drawing.seed + min(drawing.draws, most)):
        run = list(islice(drawn_run(drawing.plan, seed), left + 1))
        left -= len(run)
        if left < 0:
            return
        yield seed, run
