"""Whole lessons, engine and journal and all, over bad lines: the five invariants hold.

Run by hand for long: `pytest tests/session/engine/test_faulty_lesson.py --long` (1,000 sessions).
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import anyio
import pytest
from feedscript_drivers.wire.seal import KeyedSeal
from feedscript_drivers.wire.wire_launcher import WireLauncher
from feedscript_simulator.faults import LineFaults
from feedscript_simulator.feeder import Feeder
from feedscript_simulator.machine import Machine
from feedscript_simulator.memory import FeedMemory
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)

from feedscript.journal.store import Journal
from feedscript.launcher.port import FeedOutcome, Outcome
from feedscript.session.engine import live_run
from feedscript.session.engine.guards import CertifiedFences
from feedscript.session.engine.launcher_handle import LauncherHandle
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import BallSettled, Event, FeedRequested
from tests.session.faulty_lesson import LessonWorld, lesson_world
from tests.session.faulty_lesson_acts import ACTS, FEEDS, act, finish, run_session
from tests.session.lesson_invariants import violations
from tests.virtual_time import Loop, in_virtual_time

_SESSIONS = 4
#: Where the seeds begin of each part of a thousand sessions. One part takes minutes, on a busy
#: machine too: a session takes some two seconds of a processor.
_PARTS = range(1, 40_000, 2_000)
_SESSIONS_OF_A_PART = 50
#: So many sessions at most until a protection that is off must have been noticed.
_NOTICED_IN = 60


@pytest.fixture
def folder() -> Iterator[Path]:
    """Where the journals lie: files of the operating system, but in memory where it has that.

    What a killed host has written is there for its successor either way; waiting for a disk
    would only cost time.
    """
    with _files() as name:
        yield Path(name)


def _files() -> tempfile.TemporaryDirectory[str]:
    fast = Path("/dev/shm")
    return tempfile.TemporaryDirectory(dir=fast if fast.is_dir() else None)


def _one(folder: Path, seed: int) -> tuple[int, list[str]]:
    """The balls of one session and how it broke the invariants; its journals are thrown away."""
    with tempfile.TemporaryDirectory(dir=folder) as name:
        w, broken = run_session(Path(name), seed)
    return w.balls(), broken


def test_no_lesson_breaks_an_invariant(folder: Path) -> None:
    for seed in range(_SESSIONS):
        balls, broken = _one(folder, seed)
        assert not broken, f"seed {seed}: {broken}"
        assert balls >= FEEDS / 2, "the line was too bad to prove anything"


@pytest.mark.long
@pytest.mark.timeout(0)
@pytest.mark.parametrize("first", _PARTS)
def test_no_lesson_of_a_thousand_breaks_an_invariant(folder: Path, first: int) -> None:
    full, seed = 0, first
    while full < _SESSIONS_OF_A_PART:
        balls, broken = _one(folder, seed)
        assert not broken, f"seed {seed}: {broken}"
        full += balls >= FEEDS
        seed += 1


async def _set_up_again_before_the_stop_is_heard(folder: Path) -> tuple[str, Phase]:
    async with lesson_world("one.feed", folder, 1, LineFaults()) as w:
        await w.begin_life()
        await w.pass_time(20.0)
        assert w.host is not None
        engine = w.host.engine
        assert engine is not None
        assert engine.view.phase is Phase.RUNNING
        w.host.lines[0].stall()
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(engine.command, SimpleCommand(act=Act.STOP))
            await anyio.sleep(0.1)
            refused = await engine.command(SimpleCommand(act=Act.SET_UP_AGAIN))
            phase = engine.view.phase
            tasks.cancel_scope.cancel()
    assert refused is not None
    return refused.slug, phase


def test_nobody_is_sent_to_set_up_before_the_launcher_has_said_that_it_stopped(folder) -> None:
    seen = in_virtual_time(_set_up_again_before_the_stop_is_heard, folder)
    assert seen == ("not-now", Phase.STOPPED)


# Each protection in turn, switched off: the same sessions must notice.


_UNWRITTEN: dict[Journal, list[tuple[int, float, Event]]] = {}


def _written_once_it_is_known(
    journal: Journal, session_id: int, utc_s: float, event: Event
) -> None:
    """A request waits for its outcome, and whatever comes after it waits too."""
    waiting = _UNWRITTEN.setdefault(journal, [])
    waiting.append((session_id, utc_s, event))
    asked = {one.feed_id for _, _, one in waiting if isinstance(one, FeedRequested)}
    if asked <= {one.feed_id for _, _, one in waiting if isinstance(one, BallSettled)}:
        for entry in waiting:
            write_event(journal, *entry)
        waiting.clear()


async def _taken_for_not_sent(self: LauncherHandle) -> None:
    for feed_id in sorted(self.balls):
        self.settle(feed_id, Outcome.NOT_SENT, None, "nobody asked")


async def _no_question(self: WireLauncher, feed_id: int) -> FeedOutcome:
    del self
    return FeedOutcome(feed_id=feed_id, outcome=Outcome.NOT_SENT)


Off = tuple[object, str, Callable[..., object]]
OF_THE_ENGINE: dict[str, tuple[Off, ...]] = {
    "certificate check": ((CertifiedFences, "refusals", lambda *_: ()),),
    "writing before sending": ((live_run, "write_event", _written_once_it_is_known),),
    "asking before repeating": ((LauncherHandle, "ask_outcomes", _taken_for_not_sent),),
}
OF_THE_LINE: dict[str, tuple[Off, ...]] = {
    "feed-id refusal": ((FeedMemory, "is_used", lambda *_: False),),
    "history query": ((WireLauncher, "_outcome", _no_question),),
    "watchdog": ((Machine, "_silent_ms", lambda _: None),),
    "queue flush": ((Feeder, "flush", lambda *_: None),),
    "counter": ((KeyedSeal, "is_new", lambda *_: True),),
}


def _noticed(folder: Path, switched_off: tuple[Off, ...]) -> int | None:
    """The first seed whose session breaks an invariant without this protection."""
    with pytest.MonkeyPatch.context() as patch:
        for owner, attribute, replacement in switched_off:
            patch.setattr(owner, attribute, replacement)
        return next((seed for seed in range(_NOTICED_IN) if _one(folder, seed)[1]), None)


@pytest.mark.parametrize("name", OF_THE_ENGINE)
def test_a_protection_of_the_engine_that_is_off_is_noticed(folder: Path, name: str) -> None:
    assert _noticed(folder, OF_THE_ENGINE[name]) is not None


@pytest.mark.long
@pytest.mark.parametrize("name", OF_THE_LINE)
def test_lessons_notice_too_when_a_protection_of_the_line_is_off(folder: Path, name: str) -> None:
    assert _noticed(folder, OF_THE_LINE[name]) is not None


# The same world as a machine of rules, so that hypothesis shrinks what it finds.

small = st.floats(0, 0.03)


class Lessons(RuleBasedStateMachine):
    loop: Loop[LessonWorld] | None = None

    @initialize(
        seed=st.integers(0, 2**16),
        name=st.sampled_from(("one.feed", "two.feed")),
        keyed=st.booleans(),
        faults=st.builds(
            LineFaults, lost=small, doubled=small, corrupted=small, reordered=small, split=small
        ),
    )
    def begin(self, seed: int, name: str, keyed: bool, faults: LineFaults) -> None:
        self.files = _files()
        folder = Path(self.files.name)
        self.loop = Loop(lambda: lesson_world(name, folder, seed, faults, keyed=keyed))

    @precondition(lambda self: self.loop is not None)
    @rule(seconds=st.floats(0, 20))
    def go_on(self, seconds: float) -> None:
        async def until_later(w: LessonWorld) -> None:
            if not w.alive:
                await w.begin_life()
            await w.pass_time(seconds)

        assert self.loop is not None
        self.loop.do(until_later)

    @precondition(lambda self: self.loop is not None)
    @rule(what=st.sampled_from(sorted(set(ACTS))))
    def happen(self, what: str) -> None:
        assert self.loop is not None
        self.loop.do(lambda w: act(w, what))

    def teardown(self) -> None:
        if self.loop is None:
            return
        broken: list[str] = []

        async def judged(w: LessonWorld) -> None:
            await finish(w)
            broken.extend(violations(w))

        try:
            self.loop.do(judged)
        finally:
            self.loop.end()
            self.files.cleanup()
        assert not broken


TestLessons = Lessons.TestCase
TestLessons.settings = settings(max_examples=5, stateful_step_count=10, deadline=None)


@pytest.mark.long
@pytest.mark.timeout(0)
def test_no_three_hundred_lessons_of_rules_break_an_invariant() -> None:
    run_state_machine_as_test(
        Lessons, settings=settings(max_examples=300, stateful_step_count=30, deadline=None)
    )
