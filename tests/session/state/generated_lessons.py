"""Lessons drawn from seeds: a plan, launchers with faults, a coach who does anything at any time.

The engine conducts them over the simulated launcher on a clock that jumps. At every event the state
is held against a second one, that is made from nothing but what the journal keeps of the event.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import AsyncExitStack, closing

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

from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.port import ConnectOptions
from feedscript.plan.model import (
    Collect,
    Condition,
    Exercise,
    Fed,
    Move,
    Plan,
    Progression,
    Repeat,
    Result,
    Say,
    Send,
    ShowSpeed,
    Step,
    Turns,
    When,
)
from feedscript.plan.scene import Player
from feedscript.session.engine import start
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.resume import find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.commands import (
    ChangeRoster,
    Command,
    MarkLanding,
    RecordResult,
    RosterChange,
    SimpleCommand,
    ToExercise,
    UndoResult,
)
from feedscript.session.operator.phases import Act
from feedscript.session.state import events as e
from feedscript.session.state.apply import apply
from feedscript.session.state.event_log import read_state
from feedscript.session.state.run_state import RunState
from feedscript.tongues.text import plain
from tests.plan.small_plans import rest, send
from tests.session.engine.test_lanes import fork, lane
from tests.session.rehearsing import GARAGE, Cut, OpenFences, lesson_plan

SETTING = Setting(source="invented.feed", rehearsal=True, wall_utc_s=1e9)
OPTIONS = ConnectOptions(profile=GARAGE, session=7)
PACE = Progression(name="pace", rungs=("a", "b"))
GROUP = tuple(Player(name=name) for name in ("Ash", "Bay", "Cob"))
#: A lesson that takes longer is stopped by its coach.
LONGEST_S = 120.0


def a_plan(chance: random.Random) -> Plan:
    """A few balls: in series, in turns, or at two stations; with calls and a collect among them,
    as exercises or not."""
    launchers = chance.choice([1, 1, 1, 2])
    steps: list[Step] = [ShowSpeed(feed=2 * n, line=1) for n in range(launchers)]
    for line in range(2, 2 + chance.randint(1, 2)):
        part = chance.choice([_series, _turns, _stations])(chance, launchers, line)
        exercise = Exercise(title=f"Part {line}", repeats=1, body=(part, rest(1.0)), line=line)
        steps.append(chance.choice([part, exercise, exercise]))
        steps.append(chance.choice([Say(text=f"Part {line}.", line=line), rest(2.0)]))
        if chance.random() < 0.3:
            steps.append(Collect(line=line))
    steps.append(send(chance.choice([0, 1]), 4.0))
    return lesson_plan(*steps, launchers=launchers, players=GROUP, progressions=(PACE,))


def _series(chance: random.Random, launchers: int, line: int) -> Step:
    body = (send(0, 4.0), send(2 * launchers - 1, 4.0))
    return Repeat(times=chance.randint(1, 3), body=body, line=line)


def _turns(chance: random.Random, launchers: int, line: int) -> Step:
    body: tuple[Step, ...] = (send(1, 4.0), rest(5.0))
    if chance.random() < 0.5:
        asked = Condition(results=(Result.IN,), at_least=1)
        moves = [Move(progression=0, up=up, line=line) for up in (True, False)]
        body = (
            rising(4.0),
            When(condition=asked, then=(moves[0],), otherwise=(moves[1],), line=line),
            *body,
        )
    return Turns(slots=chance.randint(1, 4), passes=1, body=body, line=line)


def rising(after_s: float) -> Send:
    """A ball of the progression."""
    hard = Fed(kinds=(0,), feeds=(1,), rung=1)
    return Send(feeds=(0,), own=(hard,), progression=0, rungs=2, after_s=(after_s, after_s), line=1)


def _stations(chance: random.Random, launchers: int, line: int) -> Step:
    """One round of stations, or two with a collect between."""
    if launchers == 1:
        return _series(chance, launchers, line)
    rounds = chance.choice([1, 1, 2])
    stations = fork(lane(0, times=chance.randint(1, 2)), lane(1, times=chance.randint(1, 2)))
    if rounds == 1:
        return stations
    return Repeat(times=1, body=(stations, Collect(line=line), stations), line=line)


def a_command(chance: random.Random) -> Command:
    act = chance.choice([*Act, Act.NEXT, Act.AGAIN, Act.SKIP, Act.HOLD, Act.GO_ON, Act.GO_ON])
    name, change = chance.choice(["Ash", "Bay", "Elm", "Fir"]), chance.choice(list(RosterChange))
    where = (chance.uniform(-9.0, 9.0), chance.uniform(-15.0, 0.0))
    if act is Act.QUIT and chance.random() < 0.8:
        act = Act.SLOWER
    return chance.choice(
        [
            SimpleCommand(act=act),
            SimpleCommand(act=act),
            RecordResult(result=chance.choice(list(Result))),
            MarkLanding(landing_m=where),
            UndoResult(),
            ToExercise(number=chance.randint(1, 2)),
            ChangeRoster(change=change, player=name),
        ]
    )


class Shadow:
    """A second state, made of what the journal keeps of each event alone."""

    def __init__(self, lesson: LiveRun, state: RunState) -> None:
        self.lesson, self.state, self.events = lesson, state, 0
        self.phases = {state.phase}

    def follow(self, event: e.Event) -> None:
        written = msgspec.json.encode(event, enc_hook=plain)
        read = msgspec.json.decode(written, type=e.KINDS[e.KIND_OF[type(event)]])
        self.state = apply(self.lesson.plan, self.state, read)
        self.events += 1
        self.phases.add(self.state.phase)
        assert self.state == self.lesson.state, event
        assert list(self.state.records) == list(self.lesson.state.records)


class Watched(LiveRun):
    """A lesson whose every event is told on, until its host dies."""

    shadow: Shadow | None = None
    dead: bool = False

    def log(self, event: e.Event, utc_s: float | None = None) -> None:
        if self.shadow is None:
            self.shadow = Shadow(self, self.state)
        super().log(event, utc_s)
        if not self.dead:
            self.shadow.follow(event)


async def _host(
    journal: Journal,
    stand_ins: list[StandIn],
    lesson: LiveRun,
    chance: random.Random,
    dies_s: float | None,
) -> Journal | None:
    """One host's part; the journal as it was left when it died, or None where the lesson ended."""
    left: list[Journal] = []
    async with AsyncExitStack() as stack:
        lines = [Cut(await stack.enter_async_context(attach(s, Faults()))) for s in stand_ins]
        ports = [
            await stack.enter_async_context(open_launcher(line, OPTIONS, "sim:", trust=Trust.PLAIN))
            for line in lines
        ]
        engine = Engine(lesson, ports, [GARAGE] * len(ports))

        async def run() -> None:
            await engine.run()
            tasks.cancel_scope.cancel()

        async with anyio.create_task_group() as tasks:
            tasks.start_soon(run)
            tasks.start_soon(AutoOperator(engine, fixes=6).operate)
            tasks.start_soon(_meddle, engine, chance)
            if dies_s is not None:
                await anyio.sleep(dies_s)
                left.append(copy_of(journal))
                assert isinstance(lesson, Watched)
                lesson.dead = True
                for line in lines:
                    line.cut = True
                tasks.cancel_scope.cancel()
    return left[0] if left else None


async def _meddle(engine: Engine, chance: random.Random) -> None:
    """Somebody presses this and that, and in the end stops."""
    until_s = anyio.current_time() + LONGEST_S
    while anyio.current_time() < until_s:
        await anyio.sleep(chance.expovariate(1.0 / 6.0))
        await engine.command(a_command(chance))
    await engine.command(SimpleCommand(act=Act.STOP))
    await engine.command(SimpleCommand(act=Act.QUIT))


def copy_of(journal: Journal) -> Journal:
    copy = open_journal(None)
    with closing(sqlite3.connect(":memory:")) as between:
        journal._connection.backup(between)
        between.backup(copy._connection)
    return copy


Ended = Callable[[Journal], None]


async def _conduct(
    seed: int, told: Callable[[Shadow], None], plan: Plan | None, ended: Ended
) -> None:
    chance = random.Random(seed)
    plan = a_plan(chance) if plan is None else plan
    jams = frozenset({chance.randint(1, 8)}) if chance.random() < 0.3 else frozenset()
    stand_ins = [
        build(GARAGE, seed=n, faults=Faults(jams_at=jams), powered_s=anyio.current_time())
        for n in range(len(plan.launchers))
    ]
    journal = open_journal(None)
    dies_s = chance.uniform(1.0, 60.0) if chance.random() < 0.3 else None
    profiles = [GARAGE] * len(stand_ins)
    lesson = begin_lesson(plan, profiles, journal, OpenFences(), SETTING, 7)
    broken = await _host(journal, stand_ins, lesson, chance, dies_s)
    told(shadow_of(lesson))
    if broken is not None:
        found = find_broken(broken, lesson.session_id)
        assert found.state == shadow_of(lesson).state
        journal, lesson = broken, resume_lesson(found, broken, OpenFences(), SETTING)
        await _host(journal, stand_ins, lesson, chance, None)
        told(shadow_of(lesson))
    assert read_state(journal, lesson.session_id, plan) == lesson.state
    ended(journal)


def shadow_of(lesson: LiveRun) -> Shadow:
    assert isinstance(lesson, Watched)
    assert lesson.shadow is not None
    return lesson.shadow


def conduct(
    seed: int,
    told: Callable[[Shadow], None] = lambda _: None,
    plan: Plan | None = None,
    ended: Ended = lambda _: None,
) -> None:
    """A lesson of this seed, of its own plan or a given one; ``ended`` gets its journal.

    Raises AssertionError where the state that is read back is another than the live one.
    """
    clock = trio.testing.MockClock(autojump_threshold=0)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(start, "LiveRun", Watched)
        trio.run(_conduct, seed, told, plan, ended, clock=clock)
