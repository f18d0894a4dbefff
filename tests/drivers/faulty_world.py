"""A launcher, a bad line, a host that may die, and the truth about every ball that left.

The host is as careful as the port asks it to be: it writes its intent down before each feed, asks
about what it does not know, and never sends a feed again. :func:`violations` compares what it
wrote down, and what it was promised, with the truth.
"""

from __future__ import annotations

import contextlib
import random
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field

import anyio
import msgspec
from anyio.abc import TaskGroup
from feedscript_drivers.codec import plain_line
from feedscript_drivers.messages import Command
from feedscript_drivers.protocol import Number, Reason, Times
from feedscript_drivers.wire_launcher import WireLauncher, open_launcher, setting_fields
from feedscript_simulator.driven import Driven
from feedscript_simulator.faults import Faults, LineFaults
from feedscript_simulator.faulty_line import FaultyStream
from feedscript_simulator.feeder import Departure
from feedscript_simulator.in_process import DirectStream
from feedscript_simulator.stand_in import build

from feedscript.launcher.drives import MeasuredRates
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
from feedscript.launcher.profile import Profile
from feedscript.launcher.profile_file import read_profile
from feedscript.launcher.setting import Setting
from feedscript.shipped import shipped_folder

SETTINGS = (
    Setting(drives=(1500.0, 1400.0), pan_deg=-1.0, tilt_deg=5.0),
    Setting(drives=(1600.0, 1300.0), pan_deg=1.0, tilt_deg=6.0),
)
CEILING = (1600.0, 1400.0)
KEY = bytes(range(32))


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
    session: int
    outcome: Outcome | None = None


@dataclass
class World:
    """Times are the host's, in seconds; the launcher's moments are turned into them."""

    seed: int
    faults: LineFaults
    tasks: TaskGroup
    keyed: bool = False
    replays: bool = False  # somebody on the line sends old lines again
    clock_ppm: float = 0.0
    session: int = 1
    next_id: int = 1
    journal: dict[tuple[int, int], Intent] = field(default_factory=dict)
    promises: list[tuple[float, float]] = field(default_factory=list)  # no ball in (from, to)
    person_acts: list[float] = field(default_factory=list)
    resets: list[tuple[float, float]] = field(default_factory=list)  # (when, how long may follow)
    deaths: list[float] = field(default_factory=list)
    truth: list[tuple[float, int, Departure]] = field(default_factory=list)
    trouble: list[str] = field(default_factory=list)
    launcher: WireLauncher | None = None
    wire: FaultyStream | None = None
    overheard: list[bytes] = field(default_factory=list)
    replayed: int = 0
    last_error: LauncherError | None = None
    _stack: contextlib.AsyncExitStack | None = None
    _quiet_since: float | None = None

    def __post_init__(self) -> None:
        self.chance = random.Random(f"world {self.seed}")
        self.stand_in = build(
            PROFILE,
            seed=self.seed,
            powered_s=anyio.current_time(),
            cable=not self.keyed,
            key=KEY if self.keyed else None,
            watch=self._watch,
            faults=Faults(clock_ppm=self.clock_ppm),
        )
        self.stand_in.person.after_s = 0.5
        self.end = self.stand_in.end
        self.end.depart = self.end.machine.depart = self._depart
        self.driven = Driven(self.stand_in, lambda _bytes: None)
        self.tasks.start_soon(self.driven.keep_time)

    # The truth

    def _host_s(self, device_ms: float) -> float:
        run_ms = device_ms - self.end.make.clock_start_ms
        return self.end.powered_s + run_ms / 1000 / (1 + self.end.make.clock_ppm * 1e-6)

    def _depart(self, departure: Departure) -> None:
        at_s = self._host_s(departure.device_ms)
        self.truth.append((at_s, self.end.machine.memory.session or 0, departure))

    def _watch(self, word: str, numbers: str) -> None:
        if word != "STATE" or not hasattr(self, "end"):
            return
        state, reason = map(int, numbers.split())
        at_s = self._host_s(self.end.machine.now_ms)
        if reason == Reason.PERSON and state == 2:
            self.person_acts.append(at_s)
        elif state in (0, 4, 5, 6):
            clear_ms = self.end.make.stored.get(Number.GATE_CLEAR_MS)
            self.resets.append((at_s, clear_ms / 1000 + 1e-3))

    # One life of a host

    async def connect(self) -> bool:
        """Open a connection and settle what is unknown; false if the line did not let it."""
        direct = LastingWire(self.driven)
        self.wire = FaultyStream(direct, self.faults, self.chance.randrange(2**32))
        for carry in (self.wire.carry_out, self.wire.carry_back, self.wire.deliver_back):
            self.tasks.start_soon(carry)
        stream = Overheard(self.wire, self) if self.replays else self.wire
        options = ConnectOptions(
            profile=PROFILE, session=self.session, key=KEY if self.keyed else None
        )
        stack = contextlib.AsyncExitStack()
        nonce = self.chance.randrange(2**32)
        try:
            launcher = await stack.enter_async_context(
                open_launcher(stream, options, "world", nonce)
            )
        except LauncherError as error:
            self.last_error = error
            return False
        self._stack, self.launcher = stack, launcher
        self.tasks.start_soon(self._listen, launcher, self.session)
        return await self._settle()

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
        self.deaths.append(anyio.current_time())
        if out and back:
            self.wire.host_dead = True
            self.wire.deaf_back = True
        else:
            self.wire.cut_off(out=out, back=back)
        await anyio.sleep(self.chance.uniform(0.2, 3.0))
        self.wire.host_dead = True
        await self.leave()

    # What a careful host does

    async def arm(self) -> bool:
        try:
            for _ in range(3):
                status = await self._running().status()
                if status.state is LauncherState.ARMED:
                    return True
                if status.state is LauncherState.HELD:
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
            clock = await self._running().measure_clock()
            leave_s = anyio.current_time() + 1.0
            for _ in range(balls):
                setting = self.chance.choice(SETTINGS)
                feed_id, self.next_id = self.next_id, self.next_id + 1
                intent = Intent(setting_fields(setting), self.session)
                self.journal[self.session, feed_id] = intent
                try:
                    clock = await self._running().measure_clock()
                    await self._running().schedule(
                        ScheduledFeed(
                            feed_id=feed_id,
                            setting=setting,
                            leave_at_device_s=leave_s + clock.offset_s,
                        )
                    )
                except CommandRefusedError as error:
                    self.last_error = error
                    # Certain: refused without effect, unless an earlier try of the same line
                    # was accepted and only its answer was lost; the launcher's word decides.
                    await self._settle()
                    return False
                leave_s += 0.8
                await anyio.sleep_until(leave_s - 0.8 * ahead)
            await anyio.sleep_until(leave_s)
        except LauncherError as error:
            self.last_error = error
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
        await self._promise(self._running().hold())

    async def disarm(self) -> None:
        await self._promise(self._running().disarm())

    async def _promise(self, asked) -> None:
        """What was acknowledged is a promise: no ball until somebody arms or goes on."""
        try:
            await asked
        except LauncherError:
            return
        self._quiet_since = anyio.current_time()
        await anyio.sleep(self.chance.uniform(0.0, 1.5))
        self.promises.append((self._quiet_since, anyio.current_time()))

    def overtake_next_feed(self, leave_in_s: float) -> bytes:
        """The host writes down and sends one more feed; the line takes its time with it."""
        feed_id, self.next_id = self.next_id, self.next_id + 1
        fields = setting_fields(SETTINGS[0])
        self.journal[self.session, feed_id] = Intent(fields, self.session)
        leave_ms = round(self.end.machine.now_ms + leave_in_s * 1000)
        return plain_line(Command(0, "FEED", (feed_id, leave_ms, *fields)).body())

    def arrive(self, line: bytes) -> None:
        """What was on its way arrives, with a number that looks new to the launcher.

        Numbers begin at random, so every second one does.
        """
        number = (self._running().link.sequence + 20_000) % 65536
        _, rest = line.rsplit(b"*", 1)[0].split(b" ", 1)
        self.driven.receive(plain_line(f"{number} {rest.decode('ascii')}"))

    # What others do

    def press_emergency(self) -> None:
        self.stand_in.advance(anyio.current_time())
        self.end.machine.press_emergency(True)
        self.stand_in.changed()

    def reset_emergency(self) -> None:
        machine = self.end.machine
        self.stand_in.advance(anyio.current_time())
        machine.press_emergency(False)
        machine.turn_switch(True)
        machine.turn_switch(False)
        self.stand_in.changed()

    def switch_off(self) -> None:
        self.stand_in.advance(anyio.current_time())
        self.end.machine.turn_switch(False)
        self.stand_in.changed()

    def power_cut(self) -> None:
        now_s = anyio.current_time()
        self.stand_in.advance(now_s)
        self.resets.append((now_s, 0.0))
        self.end.power_cycle(now_s)
        self.stand_in.changed()

    def replay(self, pieces: int) -> None:
        """Somebody who listened sends old lines again."""
        for _ in range(min(pieces, len(self.overheard))):
            line = self.chance.choice(self.overheard)
            counter = int(line.split(b"#")[1][:8], 16)
            # One that the line had lost, and nothing after it came, arrives for the first time.
            first_time = self.end.seal is None or counter > self.end.seal.heard
            before = self.end.counts.forged
            self.driven.receive(b"\n" + line)
            self.replayed += 1
            if self.end.counts.forged == before and not first_time:
                self.trouble.append("a replayed line was taken")


class LastingWire(DirectStream):
    """What was sent before the host closed its port still arrives, however late."""

    async def aclose(self) -> None:
        pass


@dataclass(slots=True)
class Overheard:
    """Notes every whole line of the host as it goes out on the wire."""

    inner: FaultyStream
    world: World

    async def send(self, item: bytes) -> None:
        if b"#" in item:
            self.world.overheard.append(item)
        await self.inner.send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        return await self.inner.receive(max_bytes)

    async def aclose(self) -> None:
        await self.inner.aclose()

    async def __aenter__(self) -> Overheard:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.aclose()


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
    found = list(w.trouble)
    seen: set[tuple[int, int]] = set()
    for at_s, session, ball in w.truth:
        key = (session, ball.feed_id)
        if key in seen:
            found.append(f"1: feed {ball.feed_id} left twice")
        seen.add(key)
        intent = w.journal.get(key)
        if intent is None:
            found.append(f"4: ball {ball.feed_id} left and nobody had intended it")
            continue
        if intent.outcome is Outcome.NOT_SENT:
            found.append(f"1: feed {ball.feed_id} left and was reported not sent")
        if intent.outcome is None:
            found.append(f"4: ball {ball.feed_id} left and the journal does not know")
        for start, end in w.promises:
            if start < at_s <= end:
                found.append(f"2: ball {ball.feed_id} left {at_s - start:.3f} s after the stop")
        for death in w.deaths:
            armed_anew = any(death < act <= at_s for act in w.person_acts)
            if at_s > death + Times.WATCHDOG / 1000 and not armed_anew:
                found.append(f"2: ball {ball.feed_id} left {at_s - death:.3f} s after the link")
        found += _unarmed(w, at_s, ball)
        found += _wrong_speed(w, at_s, ball, intent)
    for (session, feed_id), intent in w.journal.items():
        if intent.outcome is Outcome.LEFT and (session, feed_id) not in seen:
            found.append(f"1: feed {feed_id} was reported left and did not leave")
    return found


def _wrong_speed(w: World, at_s: float, ball: Departure, intent: Intent) -> list[str]:
    """Never faster than wished; slower only where the drives were told to stop meanwhile."""
    tolerance = w.end.make.stored.get(Number.SETTLE_RPM)
    lead_s = w.end.make.stored.get(Number.GATE_LEAD_MS) / 1000
    stopped = any(at_s - lead_s <= reset <= at_s for reset, _ in w.resets)
    found = []
    for drive, most, wished in zip(ball.drives, (*CEILING, 0), intent.fields, strict=False):
        slow = drive < wished - tolerance and not stopped
        if drive > min(most, wished) + tolerance or slow:
            found.append(f"5: ball {ball.feed_id} left at {drive}, wished {wished}")
    return found


def _unarmed(w: World, at_s: float, ball: Departure) -> list[str]:
    armed = [act for act in w.person_acts if act <= at_s]
    if not armed:
        return [f"3: ball {ball.feed_id} left and nobody had armed"]
    since = max(armed)
    late = [r for r, follows in w.resets if since <= r and r + follows < at_s]
    return [f"3: ball {ball.feed_id} left {at_s - late[0]:.3f} s after a reset"] if late else []
