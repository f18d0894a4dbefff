"""A lesson that was broken off and taken up again goes on as if it never had been.

The same coach says the same things after the same balls, once to a lesson that nothing breaks off
and once to one whose host dies at some instant. Both must have the same balls for the same people
in the same order, the same calls, and the same totals.

Where a group changes among stations side by side whose turns are not on the clock, whoever is free
first is on next, and a break moves the moments at which players are free. There the same lesson is
the same each time, and of a broken one the group is compared as both hosts have it at the break.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from contextlib import AsyncExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import anyio
import msgspec
import pytest
import trio
import trio.testing
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher
from feedscript_simulator.faults import Faults
from feedscript_simulator.links.in_process import attach
from feedscript_simulator.stand_in import StandIn, build

from feedscript.journal.retention import back_up
from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.port import ConnectOptions
from feedscript.plan.interpreter.actions import Jump
from feedscript.plan.model import (
    Collect,
    Plan,
    Repeat,
    Say,
    ShowSpeed,
    Station,
    Step,
    Together,
    Turns,
)
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.resume import find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.session.operator.phases import Act, Happening, Phase
from feedscript.session.operator.view import LessonView
from feedscript.session.state.apply import replay
from feedscript.session.state.events import Commanded, Decided, Happened, Jumped, Spoken
from feedscript.session.state.plan_cursor import stand_at
from feedscript.session.state.run_state import state_at_the_start
from tests.plan.small_plans import rest, send
from tests.session.engine.test_recalled import RUNNING, left
from tests.session.engine.test_resume_trouble import look
from tests.session.rehearsing import GARAGE, Cut, OpenFences, lesson_plan

JOIN, LEAVE, REST = RosterChange.JOIN, RosterChange.LEAVE, RosterChange.REST
SETTING = Setting(source="invented.feed", rehearsal=True, wall_utc_s=1e9)
OPTIONS = ConnectOptions(profile=GARAGE, session=7)
GROUP = tuple(Player(name=name) for name in ("Ash", "Bay", "Cob"))

#: After so many balls, who comes or goes.
Changes = tuple[tuple[int, RosterChange, str], ...]


def turns(launcher: int, slots: int, line: int) -> Turns:
    body = (send(2 * launcher, 4.0), send(2 * launcher + 1, 4.0), rest(6.0))
    return Turns(slots=slots, passes=1, body=body, line=line)


ONE_STATION = lesson_plan(
    ShowSpeed(feed=0, line=1),
    Say(text="Two each.", line=2),
    turns(0, 9, 3),
    Collect(line=4),
    Say(text="And again.", line=5),
    turns(0, 9, 6),
    players=GROUP,
)


def changed_over(step: Step) -> Step:
    """The next round: each part at the other station."""
    assert isinstance(step, Together)
    north, south = step.stations
    change = msgspec.structs.replace
    stations = (change(north, players=south.players), change(south, players=north.players))
    return change(step, stations=stations)


TWO_STATIONS = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    Together(
        stations=tuple(
            Station(
                name=name,
                launcher=launcher,
                players=players,
                body=(Say(text=name, line=3), turns(launcher, 4, 4)),
                line=3,
            )
            for launcher, (name, players) in enumerate((("north", (0, 1)), ("south", (2, 3))))
        ),
        for_s=70.0,
        line=2,
    ),
    Repeat(times=2, body=(turns(0, 4, 8),), line=7),
    launchers=2,
    players=(*GROUP, Player(name="Den")),
)
#: Two rounds, the second with the parts changed over, and balls collected between.
TWO_ROUNDS = msgspec.structs.replace(
    TWO_STATIONS,
    steps=(
        *TWO_STATIONS.steps[:3],
        Collect(line=2),
        changed_over(TWO_STATIONS.steps[2]),
        *TWO_STATIONS.steps[3:],
    ),
)


@dataclass(frozen=True)
class Course:
    """What a lesson came to: who got which ball where, what was called, each player's totals."""

    balls: tuple[tuple[Any, ...], ...]
    calls: tuple[str, ...]
    totals: tuple[tuple[str, bool, int, int], ...]
    took_s: float


async def coach(engine: Engine, changes: Changes, done: set[int]) -> None:
    """Says each change once, as soon as so many balls have left."""
    for number, (balls, change, name) in enumerate(changes):
        if number in done:
            continue
        async for state in engine.views():
            if state.balls_left >= balls:
                break
        else:
            return
        assert await engine.command(ChangeRoster(change=change, player=name)) is None
        done.add(number)


async def conduct(
    plan: Plan,
    journal: Journal,
    stand_ins: list[StandIn],
    coaching: Callable[[Engine], Any],
    dies: tuple[float, Callable[[], None]] | None,
    *,
    later_s: float | None,
) -> LessonView | None:
    """One host's part of the lesson; None when it died. ``later_s``: so long after the first host
    began the second one takes it up."""
    profiles = [GARAGE] * len(stand_ins)
    async with AsyncExitStack() as stack:
        lines = [Cut(await stack.enter_async_context(attach(s, Faults()))) for s in stand_ins]
        ports = [
            await stack.enter_async_context(open_launcher(line, OPTIONS, "sim:", trust=Trust.PLAIN))
            for line in lines
        ]
        if later_s is not None:
            now = msgspec.structs.replace(SETTING, wall_utc_s=SETTING.wall_utc_s + later_s)
            lesson = resume_lesson(find_broken(journal, 1), journal, OpenFences(), now)
        else:
            lesson = begin_lesson(plan, profiles, journal, OpenFences(), SETTING, 7)
        engine = Engine(lesson, ports, profiles)
        ended: list[LessonView] = []

        async def run() -> None:
            ending = await engine.run()
            assert ending.finished, ending
            ended.append(engine.view)
            tasks.cancel_scope.cancel()

        async with anyio.create_task_group() as tasks:
            tasks.start_soon(run)
            tasks.start_soon(AutoOperator(engine).operate)
            tasks.start_soon(look, engine, stand_ins)
            tasks.start_soon(coaching, engine)
            if dies is not None:
                await anyio.sleep(dies[0])
                for line in lines:
                    line.cut = True
                dies[1]()
                tasks.cancel_scope.cancel()
    return ended[0] if ended else None


def group_of(lesson: LiveRun) -> object:
    """The group as it is once nothing is ahead: who is here, who is next, each one's turns."""
    state = lesson.state
    course = stand_at(lesson.plan, state.decisions, state.done)
    roster = state.roster.without_turns_at(set(state.decisions) - set(course.decisions))
    return (
        roster.here,
        roster.by_plan,
        roster.queue,
        [roster.turns_of(player.name) for player in roster.players],
    )


async def lesson_of(plan: Plan, changes: Changes, folder: Path, dies_s: float | None) -> Course:
    stand_ins = [
        build(GARAGE, seed=n, powered_s=anyio.current_time()) for n in range(len(plan.launchers))
    ]
    first, second = folder / "first.sqlite", folder / "second.sqlite"
    done: set[int] = set()
    engines: list[Engine] = []
    groups: list[object] = []

    async def coaching(engine: Engine) -> None:
        if engines:
            groups.append(group_of(engine.lesson))
        engines.append(engine)
        await coach(engine, changes, done)

    def die() -> None:
        back_up(first, second)
        groups.append(group_of(engines[0].lesson))

    journal = open_journal(first)
    dies = None if dies_s is None else (dies_s, die)
    began_s = anyio.current_time()
    ended = await conduct(plan, journal, stand_ins, coaching, dies, later_s=None)
    took_s = anyio.current_time() - began_s
    if ended is None:
        journal.close()
        await anyio.sleep(5.0)
        journal = open_journal(second)
        later_s = anyio.current_time() - began_s
        ended = await conduct(plan, journal, stand_ins, coaching, None, later_s=later_s)
        assert groups[1] == groups[0]
    assert ended is not None
    found = _course(journal, ended, took_s)
    journal.close()
    return found


def _course(journal: Journal, ended: LessonView, took_s: float) -> Course:
    rows = journal.rows(
        "SELECT launcher, station, ball_no, feed, player, lane, number FROM ball"
        " WHERE outcome = 'left' ORDER BY launcher, feed_id"
    )
    said = journal.rows("SELECT data ->> 'text' AS text FROM entry WHERE kind = 'call' ORDER BY id")
    calls = [row["text"] for row in said]
    # Whoever comes back to a lesson that stands at a collect is told again.
    told = [text for n, text in enumerate(calls) if n == 0 or text != calls[n - 1]]
    return Course(
        balls=tuple(tuple(row) for row in rows),
        calls=tuple(told),
        totals=tuple((p.name, p.presence, p.turns, p.balls) for p in ended.players),
        took_s=took_s,
    )


def course_of(plan: Plan, changes: Changes, folder: Path, dies_s: float | None = None) -> Course:
    folder.mkdir()
    clock = trio.testing.MockClock(autojump_threshold=0)
    return trio.run(lesson_of, plan, changes, folder, dies_s, clock=clock)


def compare(plan: Plan, changes: Changes, folder: Path, draw: random.Random, deaths: int) -> None:
    """Against as many lessons whose hosts die."""
    decided = len(plan.launchers) == 1 or not changes
    unbroken = course_of(plan, changes, folder / "unbroken")
    for number in range(deaths):
        dies_s = draw.uniform(0.5, unbroken.took_s - 1.0)
        broken = course_of(plan, changes, folder / f"broken-{number}", dies_s)
        if not decided:
            continue
        assert broken.balls == unbroken.balls, dies_s
        assert broken.totals == unbroken.totals, dies_s
        assert sorted(broken.calls) == sorted(unbroken.calls), dies_s


def drawn(draw: random.Random, balls: int) -> Changes:
    """People who come, rest, come back and leave, at random moments; somebody always stays."""
    changes, here, away = [], ["Bay", "Cob"], ["Elm", "Fir"]
    for at in sorted(draw.sample(range(2, balls), draw.randint(1, 4))):
        comes = not here or (bool(away) and draw.random() < 0.6)
        name = draw.choice(away if comes else here)
        (away if comes else here).remove(name)
        (here if comes else away).append(name)
        changes.append((at, JOIN if comes else draw.choice([REST, LEAVE]), name))
    return tuple(changes)


def test_who_came_late_is_not_owed_the_turns_that_were_missed(tmp_path: Path) -> None:
    """Elm comes after three turns; the host dies in the fifth. Nobody has two turns running."""
    changes: Changes = ((8, JOIN, "Elm"),)
    unbroken = course_of(ONE_STATION, changes, tmp_path / "unbroken")
    broken = course_of(ONE_STATION, changes, tmp_path / "broken", dies_s=70.0)
    fed = [ball[4] for ball in broken.balls if ball[4] is not None]
    assert all(fed[n : n + 3] != [name] * 3 for n, name in enumerate(fed))
    assert broken.balls == unbroken.balls
    assert broken.totals == unbroken.totals


@pytest.mark.parametrize("seed", range(2))
def test_with_one_station_nothing_is_another_for_having_been_broken_off(
    tmp_path: Path, seed: int
) -> None:
    draw = random.Random(seed)
    compare(ONE_STATION, drawn(draw, 30), tmp_path, draw, deaths=2)


@pytest.mark.parametrize("seed", range(2))
def test_with_stations_side_by_side_nothing_is_either(tmp_path: Path, seed: int) -> None:
    draw = random.Random(seed)
    compare(TWO_STATIONS, drawn(draw, 24) if seed else (), tmp_path, draw, deaths=1)


def test_between_rounds_of_stations_nothing_is_either(tmp_path: Path) -> None:
    """The host dies in the first round, at the collect or in the second."""
    compare(TWO_ROUNDS, (), tmp_path, random.Random(5), deaths=2)


def test_who_comes_to_which_station_is_the_same_each_time(tmp_path: Path) -> None:
    """Whichever of two stations happens to ask first."""
    changes = drawn(random.Random(1), 24)
    first, *others = (course_of(TWO_STATIONS, changes, tmp_path / name) for name in "abc")
    assert all(other.balls == first.balls for other in others)


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("seed", range(100, 140))
def test_of_a_hundred_and_twenty_lessons_none_is(tmp_path: Path, seed: int) -> None:
    draw = random.Random(seed)
    plan = draw.choice([ONE_STATION, TWO_STATIONS, TWO_ROUNDS])
    compare(plan, drawn(draw, 24), tmp_path, draw, deaths=3)


def test_a_call_that_a_jump_overruled_answers_nothing_after_the_resume() -> None:
    """Said at the fifth place; then the series began again after the third, and at the fifth place
    now stands a ball to be watched. Nobody has seen that one."""
    happened = (
        *RUNNING,
        *left(1, 0, reported=True, shown=False, number=3),
        Spoken(lane="", number=5),
        Commanded(act=Act.AGAIN, by="keys", phase=Phase.REGROUPING),
        Jumped(decided=(Decided(lane="", number=3, reply=Jump.AGAIN_AFTER),)),
        Happened(happening=Happening.REGROUPED, phase=Phase.RUNNING),
        Spoken(lane="", number=4),
    )
    state = replay(ONE_STATION, state_at_the_start(ONE_STATION), happened)
    assert state.decisions == {("", 3): Jump.AGAIN_AFTER, ("", 4): True}
