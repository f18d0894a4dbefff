"""The five invariants over a line that loses, doubles, spoils, delays, reorders, splits, merges.

Run by hand for long: `pytest tests/drivers/faults/test_faulty_line.py --long` (10,000 sessions).
"""

from __future__ import annotations

import pytest
import trio
import trio.testing
from feedscript_drivers.wire.seal import KeyedSeal
from feedscript_drivers.wire.wire_launcher import WireLauncher
from feedscript_simulator.faults import LineFaults
from feedscript_simulator.feeder import Feeder
from feedscript_simulator.machine import Machine
from feedscript_simulator.memory import FeedMemory
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from feedscript.launcher.port import FeedOutcome, Outcome
from tests.drivers.faults.faulty_session import ACTS, FEEDS, act, finish, run_session
from tests.drivers.faults.faulty_world import World, violations, world
from tests.virtual_time import Loop

_SESSIONS = 40
_LONG_SESSIONS = 10_000


@pytest.mark.parametrize("block", range(4))
def test_no_session_breaks_an_invariant(block: int) -> None:
    balls = 0
    for seed in range(block * _SESSIONS // 4, (block + 1) * _SESSIONS // 4):
        w, broken = run_session(seed)
        assert not broken, f"seed {seed}: {broken}"
        balls += len(w.far.truth)
    assert balls > _SESSIONS // 4 * FEEDS / 2, "the lines were too bad to prove anything"


@pytest.mark.long
@pytest.mark.timeout(0)
def test_no_session_of_ten_thousand_breaks_an_invariant() -> None:
    full = seed = 0
    while full < _LONG_SESSIONS:
        seed += 1
        w, broken = run_session(seed)
        assert not broken, f"seed {seed}: {broken}"
        full += len(w.far.truth) >= FEEDS


# Each protection in turn, switched off: the same sessions must notice.


def _never_used(self: FeedMemory, feed_id: int) -> bool:
    del self, feed_id
    return False


async def _no_question(self: WireLauncher, feed_id: int) -> FeedOutcome:
    del self
    return FeedOutcome(feed_id=feed_id, outcome=Outcome.NOT_SENT)


def _no_flush(self: Feeder, *_: object) -> None:
    del self


def _never_silent(self: Machine) -> None:
    del self


def _any_counter(self: KeyedSeal, _counter: int) -> bool:
    del self
    return True


PROTECTIONS = [
    ("feed-id refusal", [(FeedMemory, "is_used", _never_used)]),
    ("history query", [(WireLauncher, "_outcome", _no_question)]),
    ("watchdog", [(Machine, "_silent_ms", _never_silent)]),
    ("queue flush", [(Feeder, "flush", _no_flush)]),
    ("counter", [(KeyedSeal, "is_new", _any_counter)]),
]


@pytest.mark.parametrize(("name", "patches"), PROTECTIONS, ids=[p[0] for p in PROTECTIONS])
def test_a_protection_that_is_off_is_noticed(name, patches, monkeypatch) -> None:
    for owner, attribute, replacement in patches:
        monkeypatch.setattr(owner, attribute, replacement)
    for seed in range(60):
        if run_session(seed)[1]:
            return
    pytest.fail(f"60 sessions without {name} and nobody noticed")


async def _overtaken_feed() -> list[str]:
    """A host dies with a FEED on its way; the next one asks, arms, and then the line arrives."""
    async with world(7, LineFaults()) as w:
        assert await w.recover()
        assert await w.feed(2)
        late = w.overtake_next_feed(leave_in_s=5.0)
        w.wire.host_dead = True
        await w.leave()
        assert await w.recover()
        assert await w.arm()
        w.arrive(late)
        await trio.sleep(8.0)
        await finish(w)
    return violations(w)


def test_a_feed_that_arrives_after_it_was_asked_about_never_leaves(monkeypatch) -> None:
    """The directed case; that it would leave without the refusal shows that it came in time."""
    clock = trio.testing.MockClock(autojump_threshold=0)
    assert not trio.run(_overtaken_feed, clock=clock)
    monkeypatch.setattr(FeedMemory, "is_used", _never_used)
    clock = trio.testing.MockClock(autojump_threshold=0)
    assert trio.run(_overtaken_feed, clock=clock)


async def _memory_begun_anew_by_a_host_that_died() -> tuple[Outcome | None, list[str]]:
    """The launcher forgets in a power cut; one host opens it and dies before it has asked."""
    async with world(7, LineFaults()) as w:
        assert await w.recover()
        assert await w.feed(2)
        assert await w.feed_one(trio.current_time() + 1.0)
        await trio.sleep(0.8)
        w.wire.host_dead = w.wire.deaf_back = True
        await trio.sleep(1.0)
        assert len(w.far.truth) == 3
        w.far.power_cut()
        written, w.journal = w.journal, {}
        assert await w.recover()
        w.wire.host_dead = w.wire.deaf_back = True
        w.journal = written
        assert await w.recover()
        await finish(w)
    return w.journal[w.session, 3].outcome, violations(w)


def test_a_memory_that_another_host_began_anew_is_no_proof_that_a_ball_did_not_leave() -> None:
    clock = trio.testing.MockClock(autojump_threshold=0)
    found = trio.run(_memory_begun_anew_by_a_host_that_died, clock=clock)
    assert found == (Outcome.UNKNOWN, [])


# The same world as a machine of rules, so that hypothesis shrinks what it finds.


small = st.floats(0, 0.03)


class Sessions(RuleBasedStateMachine):
    loop: Loop[World] | None = None

    @initialize(
        seed=st.integers(0, 2**16),
        keyed=st.booleans(),
        faults=st.builds(
            LineFaults, lost=small, doubled=small, corrupted=small, reordered=small, split=small
        ),
    )
    def begin(self, seed: int, keyed: bool, faults: LineFaults) -> None:
        self.loop = Loop(lambda: world(seed, faults, keyed=keyed, replays=keyed))
        self.loop.do(lambda w: w.recover())

    @precondition(lambda self: self.loop is not None and self.loop.world.launcher is not None)
    @rule(balls=st.integers(1, 8), ahead=st.integers(1, 3))
    def feed(self, balls: int, ahead: int) -> None:
        assert self.loop is not None
        self.loop.do(lambda w: w.feed(balls, ahead))

    @precondition(lambda self: self.loop is not None)
    @rule(what=st.sampled_from(sorted(set(ACTS))))
    def happen(self, what: str) -> None:
        assert self.loop is not None
        self.loop.do(lambda w: act(w, what))

    def teardown(self) -> None:
        if self.loop is None:
            return
        try:
            self.loop.do(finish)
        finally:
            self.loop.end()
        assert not violations(self.loop.world)


TestSessions = Sessions.TestCase
TestSessions.settings = settings(max_examples=15, stateful_step_count=12, deadline=None)
