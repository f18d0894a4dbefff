"""A stop that does not get through: whatever is lost of it, no ball leaves later than the
launcher's watchdog allows, and no screen says that it stopped before it did.

Judged by the launcher itself: when balls really left by its own clock, and what state it was in.
Run by hand for long: `pytest tests/session/engine/test_unheard_stops.py --long` (1,000 sessions).
"""

from __future__ import annotations

import io
import random
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field

import anyio
import pytest
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.protocol import Times
from feedscript_simulator.faults import Faults
from rich.console import Console

from feedscript.launcher.port import LauncherState
from feedscript.plan.model import Plan, Repeat, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView, Still
from feedscript.terminal.plain_lines import PlainLines
from feedscript.terminal.screen import render
from feedscript.terminal.terminal_state import TerminalState
from tests.plan.small_plans import send
from tests.session.coach import see, see_phase
from tests.session.engine.deaf_relay import DeafRelay, Traffic
from tests.session.rehearsing import Rig, lesson_plan, rehearse

SESSIONS = 12
LONG_SESSIONS = 1_000
LOOKED_AT = 80  # before a protection that is off counts as not missed
#: After the stop everything is watched for so long.
WATCHED_S = 6.0

_MAY_FEED = (LauncherState.AWAITING_ARM, LauncherState.ARMED)
#: What a screen says of a launcher that has not said that it stopped.
_NOT_YET = ("Stopping", "emergency stop")


@dataclass
class Session:
    """One lesson in which somebody stops, and everything there was to see of it."""

    seed: int
    act: Act = Act.STOP
    asked_s: float = 0.0
    asked_ms: list[float] = field(default_factory=list)  # by each launcher's clock
    lied: list[str] = field(default_factory=list)
    calm_s: list[tuple[float, str]] = field(default_factory=list)  # screens that said: it stands
    dropped: int = 0
    watched: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        chance = self.chance = random.Random(f"unheard {self.seed}")
        self.act = chance.choice((Act.STOP, Act.STOP, Act.EMERGENCY_STOP, Act.HOLD))
        self.when = chance.choice((Phase.ARMING, Phase.WATCHING, *[Phase.RUNNING] * 6))
        self.launchers = chance.choice((1, 1, 2))
        self.rig = Rig(
            faults={n: Faults(clock_ppm=chance.uniform(-80.0, 80.0)) for n in range(2)},
            relay=self._relay,
        )

    def _relay(self, inner: anyio.abc.ByteStream) -> DeafRelay:
        """Any subset of the traffic of stops, each wholly or now and then."""
        chosen = [kind for kind in Traffic if self.chance.random() < 0.6]
        drops = {kind: self.chance.choice((1.0, 1.0, 0.7, 0.3)) for kind in chosen}
        return DeafRelay(inner, drops, self.chance)

    def plan(self) -> Plan:
        body = tuple(send(2 * n + feed, 2.2) for feed in (0, 1) for n in range(self.launchers))
        return lesson_plan(
            ShowSpeed(feed=0, line=1),
            *([ShowSpeed(feed=2, line=1)] if self.launchers == 2 else []),
            Repeat(times=30, body=body, line=2),
            launchers=self.launchers,
        )

    async def coach(self, engine: Engine) -> None:
        await see_phase(engine, self.when)
        await anyio.sleep(self.chance.choice((0.0, self.chance.uniform(0.0, 9.0))))
        if self.when is Phase.RUNNING and self.chance.random() < 0.5:
            state = await see(engine, lambda s: bool(s.coming))
            early_s = self.chance.uniform(0.0, 0.4)  # in the last moments before a ball
            await anyio.sleep(max(0.0, state.coming[0].leaves_utc_s - state.utc_s - early_s))
        async with anyio.create_task_group() as tasks:
            if self.act not in engine.view.allowed:
                self.act = Act.STOP  # a hold is refused while there is nothing to hold
            for relay in self.rig.relays:
                relay.deaf = True
            self.asked_s = anyio.current_time()
            self.asked_ms = [each.end.device_ms(self.asked_s) for each in self.rig.stand_ins]
            tasks.start_soon(self._look, engine)
            tasks.start_soon(engine.command, SimpleCommand(act=self.act))
            await anyio.sleep(WATCHED_S)
            tasks.cancel_scope.cancel()
        await engine.command(SimpleCommand(act=Act.QUIT))

    async def _look(self, engine: Engine) -> None:
        """At the terminal and at the plain lines, whenever they change."""
        lines, before = PlainLines(), engine.lesson.phase
        async for state in engine.views():
            if engine.lesson.phase is before and anyio.current_time() == self.asked_s:
                continue  # the command has not been taken yet
            plain = " ".join(lines.new_in(state))
            shown = _text(engine)
            if all(words in shown for words in _NOT_YET):
                self.watched["stopping"] += 1
                assert "stopped:" not in plain
                assert "held:" not in plain
                continue
            self.watched["still"] += 1
            now_s = anyio.current_time()
            self.calm_s.append((now_s, state.phase_words))
            for stand_in in self.rig.stand_ins:
                stand_in.advance(now_s)
                if stand_in.end.machine.state in _MAY_FEED:
                    self.lied.append(
                        f"{now_s - self.asked_s:.3f} s after: {state.phase_words!r}, and it is "
                        f"{stand_in.end.machine.state.value}"
                    )

    def judge(self) -> list[str]:
        """What was untrue, or unsafe."""
        found = list(self.lied)
        for stand_in, asked_ms in zip(self.rig.stand_ins, self.asked_ms, strict=True):
            for ball in stand_in.departures:
                late_ms = ball.device_ms - asked_ms
                if late_ms > Times.WATCHDOG:
                    found.append(f"a ball left {late_ms:.0f} ms after the stop")
                at_s = stand_in.end.powered_s + ball.device_ms / 1000 / (
                    1 + stand_in.end.make.clock_ppm * 1e-6
                )
                found += [
                    f"a ball left {1000 * (at_s - said_s):.1f} ms after a screen said {words!r}"
                    for said_s, words in self.calm_s
                    if at_s > said_s + 1e-3
                ]
        return found


def _text(engine: Engine) -> str:
    console = Console(file=io.StringIO(), width=80, height=24, color_system=None)
    drawn = console.render_lines(
        render(engine.view, TerminalState()), console.options.update(height=24)
    )
    return " ".join("".join(part.text for part in line) for line in drawn)


def run(seed: int) -> tuple[Session, list[str]]:
    session = Session(seed)
    rehearse(session.plan(), session.coach, rig=session.rig)
    session.dropped = sum(line.dropped for line in session.rig.relays)
    return session, session.judge()


def test_no_ball_leaves_after_the_watchdogs_time_and_no_screen_says_so_too_soon() -> None:
    dropped = 0
    for seed in range(SESSIONS):
        session, wrong = run(seed)
        assert not wrong, f"seed {seed}: {wrong[:4]}"
        dropped += session.dropped
    assert dropped > SESSIONS


@pytest.mark.long
@pytest.mark.timeout(0)
def test_the_same_over_a_thousand_sessions() -> None:
    seen: Counter[str] = Counter()
    for seed in range(LONG_SESSIONS):
        session, wrong = run(seed)
        assert not wrong, f"seed {seed}: {wrong[:4]}"
        seen.update(session.watched)
        seen["dropped"] += session.dropped
        seen["sessions in which it was stopping"] += session.watched["stopping"] > 0
    assert seen["dropped"] > LONG_SESSIONS
    print(dict(seen))


def when_told_still(launchers: int = 1) -> float:
    """Nothing of a stop gets through: how long after it the screens change to say that it stands
    still. Nobody asks again meanwhile, and nothing else happens."""
    session = Session(0)
    session.launchers = launchers
    all_of_it = dict.fromkeys(Traffic, 1.0)
    told_s: list[float] = []
    rig = Rig(relay=lambda inner: DeafRelay(inner, all_of_it, random.Random(0)))

    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.RUNNING)
        for relay in rig.relays:
            relay.deaf = True
        async with anyio.create_task_group() as tasks:
            asked_s = anyio.current_time()
            tasks.start_soon(engine.command, SimpleCommand(act=Act.STOP))
            await see(engine, lambda view: view.stopping)
            await see(engine, lambda view: not view.stopping)
            told_s.append(anyio.current_time() - asked_s)
            tasks.cancel_scope.cancel()
        await engine.command(SimpleCommand(act=Act.QUIT))

    rehearse(session.plan(), coach, rig=rig)
    return told_s[0]


def test_the_screens_say_that_it_stands_as_soon_as_the_watchdogs_time_is_over() -> None:
    assert Times.WATCHDOG / 1000 <= when_told_still() <= Times.WATCHDOG / 1000 + 0.15


def told_of_each(which: Collection[int]) -> tuple[list[tuple[Still | None, str]], str]:
    """Nothing of a stop gets through to or from these of two launchers. Once no ball leaves any
    more: how each of them is known to be still, what a screen says of it, and what to do."""
    session = Session(0)
    session.launchers = 2
    found: list[LessonView] = []
    rig = Rig(
        faults=dict.fromkeys(range(2), Faults()),
        relay=lambda inner: DeafRelay(inner, dict.fromkeys(Traffic, 1.0), random.Random(0)),
    )

    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.RUNNING)
        for index, relay in enumerate(rig.relays):
            relay.deaf = index in which
        await engine.command(SimpleCommand(act=Act.STOP))
        seen = await see(engine, lambda view: view.phase is Phase.STOPPED and not view.stopping)
        found.append(seen)
        await engine.command(SimpleCommand(act=Act.QUIT))

    rehearse(session.plan(), coach, rig=rig)
    return [(one.still, one.state_words) for one in found[0].launchers], found[0].waits_for


def test_each_launcher_is_said_to_have_confirmed_a_stop_or_not() -> None:
    (confirmed, not_heard), to_do = told_of_each({1})
    assert to_do.startswith("Not confirmed by ")
    assert "Go to its own switch first. Stopped. See why" in to_do
    assert confirmed == (Still.CONFIRMED, "safe, confirmed")
    assert not_heard == (
        Still.WATCHDOG,
        "not confirmed; the 1 s after which its own watchdog stops it are over",
    )
    both, to_do = told_of_each(())
    assert [still for still, _ in both] == [Still.CONFIRMED, Still.CONFIRMED]
    assert to_do.startswith("Stopped. See why")


def test_without_being_told_the_screens_would_wait_for_other_news(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(Engine, "_tell_when_still", lambda _engine: anyio.sleep_forever())
    assert when_told_still() > Times.WATCHDOG / 1000 + 0.15


@pytest.mark.parametrize(
    ("what", "off"),
    [
        ((Link, "silence_s"), lambda _link: 0.0),  # heartbeats go on
        ((LiveRun, "stopping"), lambda _lesson: []),  # nobody asks whether it stopped
    ],
)
def test_each_protection_is_missed_when_it_is_off(
    monkeypatch: pytest.MonkeyPatch, what: tuple[type, str], off: object
) -> None:
    """One session in three shows it, as tasks happen to be scheduled; the first one is enough."""
    monkeypatch.setattr(*what, off)
    assert any(run(seed)[1] for seed in range(LOOKED_AT))
