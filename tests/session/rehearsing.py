"""Small lessons on the stand-in in virtual time: what the engine's tests share.

The plans are invented, made of two real settings of the shipped garage profile; the fences pass
what stands in the plan, since the rules have tests of their own.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from contextlib import AsyncExitStack
from dataclasses import dataclass, field
from typing import Any, cast

import anyio
import msgspec
import trio
import trio.testing
from anyio.abc import ByteStream
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher
from feedscript_simulator.faults import Faults, read_faults
from feedscript_simulator.links.in_process import attach
from feedscript_simulator.stand_in import StandIn, build

from feedscript.diagnostics import Diagnostic
from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.port import ConnectOptions, Event, LauncherPort
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.plan.model import Plan, Progression, Step
from feedscript.plan.scene import Player
from feedscript.safety.changed_group import Changed
from feedscript.session.engine.engine import Ending, Engine
from feedscript.session.engine.guards import Fences
from feedscript.session.engine.journal_queue import JournalQueue, Write
from feedscript.session.engine.start import Setting as LessonSetting
from feedscript.session.engine.start import begin_lesson
from feedscript.session.engine.wall_clock import never
from feedscript.session.operator.auto_operator import AutoOperator, Taps
from feedscript.shipped import shipped_folder
from tests.plan import small_plans

A = Setting(drives=(1900.0, 1700.0), pan_deg=2.0, tilt_deg=8.0)
B = Setting(drives=(2100.0, 1500.0), pan_deg=-2.0, tilt_deg=9.0)


def garage() -> Profile:
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    return profile


GARAGE = garage()


def lesson_plan(
    *steps: Step,
    players: tuple[Player, ...] = (),
    launchers: int = 1,
    most_balls: int = 200,
    progressions: tuple[Progression, ...] = (),
) -> Plan:
    """A plan over feeds a and b of each launcher (numbers 0, 1, then 2, 3, ...)."""
    feeds = tuple(
        msgspec.structs.replace(
            small_plans.feed(f"{name}{launcher or ''}", launcher=launcher), setting=setting
        )
        for launcher in range(launchers)
        for name, setting in (("a", A), ("b", B))
    )
    plan = small_plans.plan(
        *steps, feeds=feeds, players=players, most_balls=most_balls, progressions=progressions
    )
    placed = tuple(
        msgspec.structs.replace(each, profile_hash=profile_hash(GARAGE)) for each in plan.launchers
    )
    return msgspec.structs.replace(plan, launchers=placed, title="Invented lesson")


#: A rehearsal that takes longer (in virtual time) waits for something that never comes.
LONGEST_S = 1800.0


class OpenFences:
    """Passes every plan, and every setting that stands in it."""

    def refusals(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[()]:
        return ()

    def covers(self, plan: Plan, launcher: int, setting: Setting) -> bool:
        return any(f.launcher == launcher and f.setting == setting for f in plan.feeds)

    def would_pass(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[()]:
        return ()

    def group_refusals(
        self, plan: Plan, profiles: Sequence[Profile], changed: Changed
    ) -> tuple[Diagnostic, ...]:
        return ()


class Cut(ByteStream):
    """A line that can be cut: from then on nothing crosses it in either direction."""

    def __init__(self, inner: ByteStream) -> None:
        self.inner, self.cut = inner, False

    async def send(self, item: bytes) -> None:
        if not self.cut:
            await self.inner.send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        while True:
            data = await self.inner.receive(max_bytes)
            if not self.cut:
                return data

    async def send_eof(self) -> None:
        await self.inner.send_eof()

    async def aclose(self) -> None:
        await self.inner.aclose()


class LateEvents:
    """A port whose events come later than the replies to the commands that caused them."""

    def __init__(self, port: LauncherPort, late_s: float) -> None:
        self._port, self._late_s = port, late_s

    def __getattr__(self, name: str) -> Any:
        return getattr(self._port, name)

    async def events(self) -> AsyncIterator[Event]:
        async for event in self._port.events():
            await anyio.sleep(self._late_s)
            yield event


class SlowDisk(JournalQueue):
    """Writes on the virtual clock, each batch only after so long."""

    def __init__(self, takes_s: float) -> None:
        super().__init__(threaded=True)
        self.takes_s = takes_s

    async def _write(self, batch: list[Write]) -> None:
        await anyio.sleep(self.takes_s)
        self._do(batch)


@dataclass
class Rig:
    """The simulated launchers of one rehearsal, and the lines to them, as they are plugged in."""

    faults: dict[int, Faults] = field(default_factory=dict)  # a launcher: what goes wrong there
    stand_ins: list[StandIn] = field(default_factory=list)
    lines: list[Cut] = field(default_factory=list)
    events_late_s: float = 0.0  # so long after the replies that they go with
    relay: Callable[[ByteStream], Any] | None = None  # what stands between host and launcher
    asleep_s: Callable[[], float] = never  # for how long the host was suspended so far
    disk_s: float = 0.0  # what a write to the journal takes
    port: Callable[[LauncherPort], Any] | None = None  # what stands before the driver
    relays: list[Any] = field(default_factory=list)

    def thrown_s(self, launcher: int) -> list[float]:
        """When balls really left this launcher, by its own clock."""
        return [ball.device_ms / 1000.0 for ball in self.stand_ins[launcher].departures]


Script = Callable[[Engine], Awaitable[None]]
Conduct = Callable[[Engine], Awaitable[Ending]]


@dataclass
class Run:
    """How a rehearsal went."""

    ending: Ending
    engine: Engine
    journal: Journal
    states: list[object] = field(default_factory=list)

    def balls(self) -> list[dict[str, object]]:
        return [dict(row) for row in self.journal.rows("SELECT * FROM ball ORDER BY feed_id")]

    def phases(self) -> list[str]:
        """Every phase after the first, in order."""
        rows = self.journal.rows(
            "SELECT data ->> 'phase' AS phase FROM entry WHERE kind IN ('act', 'happened')"
            " ORDER BY id"
        )
        seen = [row["phase"] for row in rows]
        return [phase for n, phase in enumerate(seen) if n == 0 or phase != seen[n - 1]]

    def left(self) -> list[dict[str, object]]:
        return [ball for ball in self.balls() if ball["outcome"] == "left"]


async def _plug_in(stack: AsyncExitStack, rig: Rig, number: int) -> LauncherPort:
    faults = rig.faults.get(number, Faults())
    stand_in = build(GARAGE, seed=number, faults=faults, powered_s=anyio.current_time())
    stream = await stack.enter_async_context(attach(stand_in, faults))
    if rig.relay is not None:
        stream = rig.relay(stream)
        rig.relays.append(stream)
    line = Cut(stream)
    rig.stand_ins.append(stand_in)
    rig.lines.append(line)
    options = ConnectOptions(profile=GARAGE, session=7)
    port = await stack.enter_async_context(open_launcher(line, options, "sim:", trust=Trust.PLAIN))
    if rig.port is not None:
        return cast(LauncherPort, rig.port(port))
    return cast(LauncherPort, LateEvents(port, rig.events_late_s)) if rig.events_late_s else port


async def _rehearse(
    plan: Plan,
    script: Script | None,
    rig: Rig,
    fences: Fences,
    conduct: Conduct,
    taps: Taps | None,
) -> Run:
    journal = open_journal(None)
    setting = LessonSetting(source="invented.feed", rehearsal=True, wall_utc_s=1e9)
    async with AsyncExitStack() as stack:
        ports = [await _plug_in(stack, rig, number) for number in range(len(plan.launchers))]
        lesson = begin_lesson(plan, [GARAGE] * len(ports), journal, fences, setting, 7)
        lesson.wall.asleep_s = rig.asleep_s
        if rig.disk_s:
            lesson.journal_queue = SlowDisk(rig.disk_s)
        engine = Engine(lesson, ports, [GARAGE] * len(ports))
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(AutoOperator(engine, taps=taps).operate)
            if script is not None:
                tasks.start_soon(script, engine)
            with anyio.fail_after(LONGEST_S):
                ending = await conduct(engine)
            tasks.cancel_scope.cancel()
    return Run(ending, engine, journal)


def rehearse(
    plan: Plan,
    script: Script | None = None,
    *,
    faults: tuple[str, ...] = (),
    rig: Rig | None = None,
    fences: Fences | None = None,
    late_taps_s: float = 0.0,
    conduct: Conduct | None = None,
    taps: Taps | None = Taps.SOON,
) -> Run:
    """Run a plan on the stand-in, on a clock that jumps; ``script`` plays the coach.

    ``taps``: how balls on request are asked for; None leaves that to the script.
    ``conduct`` runs the engine, where it is not to run alone.
    ``faults`` are those of every launcher, unless a ``rig`` says what goes wrong where.
    """
    if rig is None:
        rig = Rig(dict.fromkeys(range(len(plan.launchers)), read_faults(faults)))
    clock = trio.testing.MockClock(autojump_threshold=0)
    fence = fences or OpenFences()
    run = conduct or (lambda engine: engine.run(late_taps_s))
    return trio.run(_rehearse, plan, script, rig, fence, run, taps, clock=clock)
