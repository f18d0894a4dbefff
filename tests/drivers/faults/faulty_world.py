"""A host over a bad line, that may die: scripted, and as careful as the port asks it to be.

It writes its intent down before each feed, asks about what it does not know, and never sends a
feed again. :func:`violations` compares what it wrote down, and what it was promised, with the
truth.
"""

from __future__ import annotations

import contextlib
import random
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field

import anyio
import msgspec
from anyio.abc import ByteStream, TaskGroup
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.messages import Command
from feedscript_drivers.wire.wire_launcher import WireLauncher, open_launcher, setting_fields
from feedscript_simulator.faults import Faults, LineFaults

from feedscript.launcher.port import (
    CommandRefusedError,
    ConnectOptions,
    LauncherError,
    LauncherState,
    Left,
    NotSent,
    Outcome,
    ScheduledFeed,
    StopCategory,
)
from feedscript.launcher.profile.drives import MeasuredRates
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.shipped import shipped_folder
from tests.drivers.faults.invariants import broken_by, dishonest
from tests.drivers.faults.witness import Overheard, StallingLine, Witness

SETTINGS = (
    Setting(drives=(1500.0, 1400.0), pan_deg=-1.0, tilt_deg=5.0),
    Setting(drives=(1600.0, 1300.0), pan_deg=1.0, tilt_deg=6.0),
)
CEILING = (1600.0, 1400.0)


def brisk_profile() -> Profile:
    """The example launcher with quicker parts, so that a session is short in virtual time."""
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    replace = msgspec.structs.replace
    rates = MeasuredRates(run_up_rpm_per_s=9000, run_down_rpm_per_s=9000, recovery_s=0.05)
    return replace(
        profile,
        drive=replace(profile.drive, response=rates),
        limits=replace(
            profile.limits,
            least_interval_s=0.5,
            hopper_balls=1000,
            azimuth_rate_dps=60.0,
            elevation_rate_dps=60.0,
        ),
        feeder=replace(profile.feeder, gate_cycle_s=0.3, gate_lead_s=0.1),
    )


PROFILE = brisk_profile()


@dataclass(slots=True)
class Intent:
    """What the host wrote down about one feed."""

    fields: tuple[int, ...]
    outcome: Outcome | None = None


@dataclass
class World:
    """Times are the host's, in seconds."""

    seed: int
    faults: LineFaults
    tasks: TaskGroup
    keyed: bool = False
    replays: bool = False  # somebody on the line sends old lines again
    clock_ppm: float = 0.0
    through: Callable[[ByteStream], ByteStream] | None = None  # what the host sends through
    session: int = 1
    next_id: int = 1
    journal: dict[tuple[int, int], Intent] = field(default_factory=dict)
    trouble: list[str] = field(default_factory=list)
    launcher: WireLauncher | None = None
    wire: StallingLine | None = None
    last_error: LauncherError | None = None
    _stack: contextlib.AsyncExitStack | None = None

    def __post_init__(self) -> None:
        self.chance = random.Random(f"world {self.seed}")
        faults = Faults(self.faults, clock_ppm=self.clock_ppm)
        self.far = Witness(PROFILE, self.seed, self.tasks, keyed=self.keyed, faults=faults)

    # One life of a host

    async def connect(self) -> bool:
        """Open a connection and settle what is unknown; false if the line did not let it."""
        self.wire = self.far.lay_line(self.chance.randrange(2**32))
        line = self.wire if self.through is None else self.through(self.wire)
        stream = Overheard(line, self.far) if self.replays else line
        options = ConnectOptions(
            profile=PROFILE,
            session=self.session,
            key=self.far.key,
            left_before=max(self._known_to_have_left(), default=0),
        )
        stack = contextlib.AsyncExitStack()
        nonce = self.far.draw_nonce(self.chance)
        try:
            launcher = await stack.enter_async_context(
                open_launcher(stream, options, "world", nonce, trust=self.far.trust)
            )
        except LauncherError as error:
            self.last_error = error
            return False
        self._stack, self.launcher = stack, launcher
        self.tasks.start_soon(self._listen, launcher, self.session)
        return await self._settle()

    def _known_to_have_left(self) -> list[int]:
        return [
            feed_id
            for (session, feed_id), intent in self.journal.items()
            if session == self.session and intent.outcome is Outcome.LEFT
        ]

    async def _settle(self) -> bool:
        """History before anything else."""
        open_ids = [
            feed_id
            for (session, feed_id), intent in self.journal.items()
            if session == self.session and intent.outcome is None
        ]
        try:
            for feed_id in open_ids:
                for found in await self._running().history(feed_id - 1, feed_id):
                    self.settle(self.session, feed_id, found.outcome)
        except LauncherError as error:
            self.last_error = error
            await self.leave()
            return False
        return True

    def _running(self) -> WireLauncher:
        assert self.launcher is not None
        return self.launcher

    async def _listen(self, launcher: WireLauncher, session: int) -> None:
        async for event in launcher.events():
            if isinstance(event, Left):
                self.settle(session, event.feed_id, Outcome.LEFT)
            elif isinstance(event, NotSent):
                self.settle(session, event.feed_id, Outcome.NOT_SENT)

    def settle(self, session: int, feed_id: int, outcome: Outcome) -> None:
        intent = self.journal.get((session, feed_id))
        if intent is None:
            self.trouble.append(f"feed {feed_id}: {outcome} reported, never intended")
        elif intent.outcome is None or intent.outcome is Outcome.UNKNOWN:
            intent.outcome = outcome
        elif outcome not in (intent.outcome, Outcome.UNKNOWN):
            self.trouble.append(f"feed {feed_id}: first {intent.outcome}, then {outcome}")

    async def leave(self) -> None:
        """End the connection properly."""
        if self._stack is not None:
            stack, self._stack = self._stack, None
            await stack.aclose()
        self.launcher = None

    async def recover(self, tries: int = 6) -> bool:
        """Leave what there is and open anew."""
        await self.leave()
        for _ in range(tries):
            if await self.connect():
                return True
            await anyio.sleep(0.3)
        return False

    async def die(self, *, out: bool = True, back: bool = True) -> None:
        """kill -9, or a line that goes dead in one direction or both without telling anybody."""
        assert self.wire is not None
        self.far.line_dies()
        if out and back:
            self.wire.host_dead = True
            self.wire.deaf_back = True
        else:
            self.wire.cut_off(out=out, back=back)
        await anyio.sleep(self.chance.uniform(0.2, 3.0))
        self.wire.host_dead = True
        await self.leave()

    async def die_with_a_feed_held_up(self) -> None:
        """The line keeps a feed to itself; its host dies, the next one asks about it and arms,
        and then the feed arrives, often with a number that looks new."""
        if not await self.arm():
            return
        assert self.wire is not None
        await self._running().measure_clock()
        kept = self.wire.stall()
        with (
            anyio.move_on_after(self.chance.uniform(0.05, 0.6)),
            contextlib.suppress(LauncherError),
        ):
            await self.feed_one(anyio.current_time() + self.chance.uniform(4.0, 8.0))
        self.far.line_dies()
        self.wire.host_dead = self.wire.deaf_back = True
        if await self.recover() and await self.arm():
            self.far.arrive(kept)
            await anyio.sleep(8.0)

    # What a careful host does

    async def arm(self) -> bool:
        try:
            for _ in range(3):
                status = await self._running().status()
                if status.state is LauncherState.ARMED:
                    return True
                if status.state is LauncherState.HELD:
                    self.far.goes_on()
                    await self._running().go_on()
                    continue
                if status.state is LauncherState.FAULT:
                    await self._running().disarm()
                if status.state is LauncherState.SAFE:
                    self._running().pulse.hurry()
                    await self._running().arm(CEILING)
                await anyio.sleep(0.8)
        except LauncherError as error:
            self.last_error = error
        return False

    async def feed(self, balls: int, ahead: int = 2) -> bool:
        """Schedule balls, at most ``ahead`` beyond the one that leaves next; then see them off."""
        if not await self.arm():
            return False
        try:
            leave_s = anyio.current_time() + 1.0
            for _ in range(balls):
                if not await self.feed_one(leave_s):
                    return False
                leave_s += 0.8
                await anyio.sleep_until(leave_s - 0.8 * ahead)
            await anyio.sleep_until(leave_s)
        except LauncherError as error:
            self.last_error = error
            return False
        return True

    async def feed_one(self, leave_s: float) -> bool:
        """Write the intent down, then ask for the ball; false if it was refused."""
        setting = self.chance.choice(SETTINGS)
        feed_id, self.next_id = self.next_id, self.next_id + 1
        self.journal[self.session, feed_id] = Intent(setting_fields(setting))
        try:
            clock = await self._running().measure_clock()
            await self._running().schedule(
                ScheduledFeed(
                    feed_id=feed_id, setting=setting, leave_at_device_s=leave_s + clock.offset_s
                )
            )
        except CommandRefusedError as error:
            self.last_error = error
            # Certain: refused without effect, unless an earlier try of the same line
            # was accepted and only its answer was lost; the launcher's word decides.
            await self._settle()
            return False
        return True

    async def feed_and(self, balls: int, happening: Callable[[], None]) -> None:
        """Something happens while balls are queued."""
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(self.feed, balls, 4)
            await anyio.sleep(self.chance.uniform(1.0, 4.0))
            happening()
            tasks.cancel_scope.cancel()

    async def finish_session(self) -> None:
        """Another lesson begins: another token, and feed ids from 1 again."""
        if self.launcher is not None:
            await self.leave()
            self.session += 1
            self.next_id = 1
            await self.recover()

    async def stop(self, category: StopCategory = StopCategory.RUN_DOWN) -> None:
        await self._promise(self._running().stop(category))

    async def hold(self) -> None:
        await self._promise(self._running().hold(), held=True)

    async def disarm(self) -> None:
        await self._promise(self._running().disarm())

    async def _promise(self, asked, *, held: bool = False) -> None:
        """What was acknowledged is a promise: no ball until somebody arms or goes on."""
        try:
            await asked
        except LauncherError:
            return
        self.far.promised(held=held)
        await anyio.sleep(self.chance.uniform(0.0, 1.5))

    def overtake_next_feed(self, leave_in_s: float) -> bytes:
        """The host writes down and sends one more feed; the line takes its time with it."""
        feed_id, self.next_id = self.next_id, self.next_id + 1
        fields = setting_fields(SETTINGS[0])
        self.journal[self.session, feed_id] = Intent(fields)
        leave_ms = round(self.far.end.machine.now_ms + leave_in_s * 1000)
        return plain_line(Command(0, "FEED", (feed_id, leave_ms, *fields)).body())

    def arrive(self, line: bytes) -> None:
        """What was on its way arrives, with a number that looks new to the launcher."""
        number = (self._running().link.sequence + 20) % 65536
        _, rest = line.rsplit(b"*", 1)[0].split(b" ", 1)
        self.far.driven.receive(plain_line(f"{number} {rest.decode('ascii')}"))


@contextlib.asynccontextmanager
async def world(seed: int, faults: LineFaults, **options) -> AsyncIterator[World]:
    async with anyio.create_task_group() as tasks:
        w = World(seed, faults, tasks, **options)
        try:
            yield w
        finally:
            await w.leave()
            tasks.cancel_scope.cancel()


def violations(w: World) -> list[str]:
    """Every way in which the truth breaks one of the five invariants."""
    found = [*w.trouble, *w.far.trouble]
    seen: set[tuple[int, int]] = set()
    for gone in w.far.truth:
        key = (gone.session, gone.ball.feed_id)
        if key in seen:
            found.append(f"1: feed {gone.ball.feed_id} left twice")
        seen.add(key)
        intent = w.journal.get(key)
        if intent is None:
            found.append(f"4: ball {gone.ball.feed_id} left and nobody had intended it")
        else:
            found += broken_by(w.far, gone, intent.fields, (*CEILING, 0))
    for key, intent in w.journal.items():
        found += dishonest(key[1], intent.outcome, left=key in seen)
    return found
