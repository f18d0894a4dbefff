"""A whole lesson on the stand-in: the same engine, driver and wire, in virtual time or in real.

In virtual time the clock jumps to whatever is due next, so an hour takes a few seconds, most
of them spent on the heartbeats, which are as real as on court.
"""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable, Sequence
from contextlib import ExitStack, closing
from typing import Any

import anyio
import msgspec

from feedscript.journal.queries import balls_of
from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.port import Outcome, SeesBalls
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.trials.far_end import Seen
from feedscript.plan.model import Plan
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import Ending, Engine
from feedscript.session.engine.start import Setting
from feedscript.session.operator.auto_operator import AutoOperator, Taps
from feedscript.session.operator.view import LessonView
from feedscript.session.rehearsal.landings import Landed, land_all
from feedscript.session.rehearsal.late import Late
from feedscript.session.rehearsal.results import record_drawn
from feedscript.session.rehearsal.said import Said, said_in
from feedscript.session.rehearsal.tried import NOTHING_TRIED, Tried, play_people, seen_by


class Rehearsed(msgspec.Struct, frozen=True, kw_only=True):
    """One ball of a rehearsal; ``at_s`` from the first ball that left, pauses included."""

    feed_id: int
    launcher: int
    feed: str
    player: str | None
    at_s: float
    outcome: Outcome
    reason: str
    aim_m: tuple[float, float]
    landing_m: tuple[float, float] | None
    shown: bool
    speed_mps: float | None = None  # at the mouth
    flight_s: float | None = None


class Rehearsal(msgspec.Struct, frozen=True):
    """What a rehearsal showed."""

    ending: Ending
    balls: tuple[Rehearsed, ...]
    said: tuple[Said, ...]
    lesson_s: float
    took_s: float
    taps: Taps = Taps.SOON  # what the coach did about balls on request
    seen: tuple[tuple[Seen, ...], ...] = ()  # by each launcher itself
    acts: tuple[Seen, ...] = ()  # named faults that were people's, when they struck


#: So often the simulated coach sets the stand-in up again, or goes on, after trouble.
FIXES = 5
#: In real time the state is shown at least this often.
SHOWN_EVERY_S = 0.5

#: Drawn players' last results are waited for so long. Design value.
SEEN_BY_S = 5.0

Watch = Callable[[LessonView], None]


def rehearse(
    plan: Plan,
    profiles: Sequence[Profile],
    source: str,
    *,
    seed: int = 0,
    faults: tuple[str, ...] = (),
    real_time: bool = False,
    journal: Journal | None = None,
    watch: Watch | None = None,
    taps: Taps = Taps.SOON,
    results: bool = False,
    late: Late | None = None,
    tried: Tried = NOTHING_TRIED,
) -> Rehearsal:
    """Rehearse a certified plan. Raises LauncherError for faults the stand-in does not know.

    ``taps``: how the simulated coach asks for balls on request. ``results``: whether drawn players'
    results are recorded. ``late``: a player who comes when the lesson has begun. ``tried``: named
    faults.
    """
    links = _links(plan, seed, faults, tried)
    with ExitStack() as own:
        book = journal or own.enter_context(closing(open_journal(None)))
        began_s = time.monotonic()
        setting = Setting(source=source, rehearsal=True, wall_utc_s=time.time())
        acts: list[Seen] = []

        async def conduct() -> Conducted:
            async with connect_lesson(plan, profiles, links, book, setting) as engine:
                async with anyio.create_task_group() as tasks:
                    coach = AutoOperator(engine, watch, FIXES, taps, tried.looks_s)
                    tasks.start_soon(coach.operate)
                    play_people(tasks, engine, late, tried, acts)
                    if results:
                        tasks.start_soon(record_drawn, engine, seed)
                    if real_time and watch is not None:
                        tasks.start_soon(_keep_showing, engine, watch)
                    ending = await engine.run(SEEN_BY_S if results else 0.0)
                    tasks.cancel_scope.cancel()
                return ending, engine, _landings(plan, engine), seen_by(engine)

        ending, engine, landings, seen = _run(conduct, real_time=real_time)
        balls = _balls(plan, book, engine.lesson.session_id, landings)
        said = said_in(book, engine.lesson.session_id)
        took_s = time.monotonic() - began_s
        return Rehearsal(ending, balls, said, _length_s(balls), took_s, taps, seen, tuple(acts))


def _links(plan: Plan, seed: int, faults: tuple[str, ...], tried: Tried) -> Links:
    return Links(
        urls=tuple(f"paced:{path}" for path in tried.replays) or ("sim:",) * len(plan.launchers),
        capture=tried.capture,
        seed=seed,
        faults=faults,
        trials=tried.trials,
    )


async def _keep_showing(engine: Engine, watch: Watch) -> None:
    """The clocks on a screen go on also while nothing happens."""
    while True:
        await anyio.sleep(SHOWN_EVERY_S)
        watch(engine.view)


Conducted = tuple[Ending, Engine, dict[int, Landed], tuple[tuple[Seen, ...], ...]]


def _run(conduct: Callable[[], Awaitable[Conducted]], *, real_time: bool) -> Conducted:
    import trio

    from feedscript.session.rehearsal.leaping_clock import LeapingClock

    clock = None if real_time else LeapingClock()
    return trio.run(conduct, clock=clock)


def _landings(plan: Plan, engine: Engine) -> dict[int, Landed]:
    found: dict[int, Landed] = {}
    for launcher in engine.lesson.launchers:
        if isinstance(launcher.port, SeesBalls):
            throws = launcher.port.throws()
            for landed in land_all(plan, launcher.profile, launcher.index, throws):
                found[landed.feed_id] = landed
    return found


def _balls(
    plan: Plan, journal: Journal, session_id: int, landings: dict[int, Landed]
) -> tuple[Rehearsed, ...]:
    rows = sorted(balls_of(journal, session_id), key=lambda row: row.left_utc_s or row.intent_utc_s)
    first = next((row.left_utc_s for row in rows if row.left_utc_s), 0.0)
    return tuple(
        Rehearsed(
            feed_id=row.feed_id,
            launcher=row.launcher,
            feed=row.feed,
            player=row.player,
            at_s=round((row.left_utc_s or row.intent_utc_s) - first, 3),
            outcome=Outcome(row.outcome or Outcome.UNKNOWN),
            reason=row.reason,
            aim_m=plan.feeds[row.feed_index].landing_m,
            shown=bool(row.shown),
            **_came_down(landings.get(row.feed_id)),
        )
        for row in rows
    )


def _came_down(landed: Landed | None) -> dict[str, Any]:
    if landed is None:
        return {"landing_m": None}
    return {
        "landing_m": landed.landing_m,
        "speed_mps": landed.speed_mps,
        "flight_s": landed.flight_s,
    }


def _length_s(balls: tuple[Rehearsed, ...]) -> float:
    return max((ball.at_s for ball in balls if ball.outcome is Outcome.LEFT), default=0.0)
