"""A launcher on a bad line, the people beside it, and the truth about every ball that left.

Times are the host's, in seconds; the launcher's moments are turned into them. What a host was
promised (a stop that was acknowledged) and what befell the line stands here too, so that
:mod:`tests.drivers.faults.invariants` can hold the balls against it, whoever the host was.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import anyio
from anyio.abc import ByteStream, TaskGroup
from feedscript_drivers.wire.protocol import STATES, Number, Reason
from feedscript_drivers.wire.trust import Trust
from feedscript_simulator.faults import Faults, LineFaults
from feedscript_simulator.feeder import Departure
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.faulty_line import FaultyStream
from feedscript_simulator.links.in_process import DirectStream
from feedscript_simulator.stand_in import build

from feedscript.launcher.port import LauncherState
from feedscript.launcher.profile.model import Profile

KEY = bytes(range(32))

#: Once in one of these, a launcher feeds nobody before a person has armed it anew.
_NOT_ARMED = (
    LauncherState.SAFE,
    LauncherState.STOPPING,
    LauncherState.STOPPED,
    LauncherState.FAULT,
)


@dataclass(frozen=True, slots=True)
class Gone:
    """One ball that left: when, in which session, how."""

    at_s: float
    session: int
    ball: Departure


@dataclass(slots=True)
class Promise:
    """No ball in (from, to]: what an acknowledged stop or hold says."""

    from_s: float
    held: bool  # by a hold, which the host itself may end
    to_s: float = math.inf


class Witness:
    """One launcher; ``lay_line`` gives each host that comes a line of its own to it."""

    def __init__(
        self,
        profile: Profile,
        seed: int,
        tasks: TaskGroup,
        *,
        keyed: bool = False,
        faults: Faults | None = None,
    ) -> None:
        self.tasks = tasks
        self.line_faults = (faults or Faults()).line
        self.truth: list[Gone] = []
        self.person_acts: list[float] = []
        self.resets: list[tuple[float, float]] = []  # (when, how long a ball may follow)
        self.promises: list[Promise] = []
        self.deaths: list[float] = []
        self.trouble: list[str] = []
        self.overheard: list[bytes] = []
        self.replayed = 0
        self.key = KEY if keyed else None
        self.trust = Trust.KEYED if keyed else Trust.PLAIN
        self.chance = random.Random(f"witness {seed}")
        self.stand_in = build(
            profile,
            seed=seed,
            powered_s=anyio.current_time(),
            cable=not keyed,
            key=self.key,
            watch=self._watch,
            faults=faults,
        )
        self.stand_in.person.after_s = 0.5
        self.end = self.stand_in.end
        self.end.depart = self.end.machine.depart = self._depart
        self.driven = Driven(self.stand_in, lambda _bytes: None)
        tasks.start_soon(self.driven.keep_time)

    # The truth

    def host_s(self, device_ms: float) -> float:
        run_ms = device_ms - self.end.make.clock_start_ms
        return self.end.powered_s + run_ms / 1000 / (1 + self.end.make.clock_ppm * 1e-6)

    def _depart(self, departure: Departure) -> None:
        at_s = self.host_s(departure.device_ms)
        self.truth.append(Gone(at_s, self.end.machine.memory.session or 0, departure))

    def _watch(self, word: str, numbers: str) -> None:
        if word != "STATE" or not hasattr(self, "end"):
            return
        number, reason = map(int, numbers.split())
        at_s = self.host_s(self.end.machine.now_ms)
        if reason == Reason.PERSON and STATES[number] is LauncherState.ARMED:
            self.person_acts.append(at_s)
            self._end_promises(at_s, held=False)
        elif STATES[number] in _NOT_ARMED:
            clear_ms = self.end.make.stored.get(Number.GATE_CLEAR_MS)
            self.resets.append((at_s, clear_ms / 1000 + 1e-3))

    def promised(self, *, held: bool = False) -> None:
        """A stop, or a hold, was acknowledged just now."""
        self.promises.append(Promise(anyio.current_time(), held))

    def goes_on(self) -> None:
        """The host asks to end a hold: balls may leave again."""
        self._end_promises(anyio.current_time(), held=True)

    def _end_promises(self, at_s: float, *, held: bool) -> None:
        for promise in self.promises:
            if promise.held or not held:
                promise.to_s = min(promise.to_s, at_s)

    # The line

    def draw_nonce(self, chance: random.Random) -> int:
        """A new connection's; its numbers begin with it, often so that an old line looks new."""
        number = chance.randrange(65536)
        if self.end._last_sequence is not None and chance.random() < 0.5:
            number = (self.end._last_sequence - chance.randrange(5, 40)) % 65536
        return chance.randrange(65536) * 65536 + number

    def lay_line(self, seed: int) -> StallingLine:
        """A new line to the launcher; what is on its way on older ones still arrives."""
        wire = StallingLine(LastingWire(self.driven), self.line_faults, seed)
        for carry in (wire.carry_out, wire.carry_back, wire.deliver_back):
            self.tasks.start_soon(carry)
        return wire

    def arrive(self, pieces: list[bytes]) -> None:
        """What a line had kept back reaches the launcher after all."""
        for piece in pieces:
            self.driven.receive(piece)

    def line_dies(self) -> None:
        self.deaths.append(anyio.current_time())

    def fix_line(self) -> None:
        """Lines that are laid from now on are good ones."""
        self.line_faults = LineFaults()

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


class StallingLine(FaultyStream):
    """A faulty line that tells when words cross it, and can stall just then."""

    kept: list[bytes] | None = None
    _expected: bytes | None = None
    _stalls: bool = False
    _heard: anyio.Event

    def wait_for(self, words: bytes, *, stalled: bool) -> anyio.Event:
        """Set when the host next says these words; stalled: they and what follows are kept."""
        self._expected, self._stalls, self._heard = words, stalled, anyio.Event()
        return self._heard

    def expect_nothing(self) -> None:
        self._expected = None

    def stall(self) -> list[bytes]:
        """From now on what is sent is put into this list and goes no further."""
        self.kept = []
        return self.kept

    async def send(self, item: bytes) -> None:
        if self._expected is not None and self._expected in item and not self.host_dead:
            self._expected = None
            self._heard.set()
            if self._stalls:
                self.stall()
        if self.kept is None or self.host_dead:
            await super().send(item)
        else:
            self.kept.append(item)


@dataclass(slots=True)
class Overheard:
    """Notes every whole keyed line of the host as it goes out on the wire."""

    inner: ByteStream
    witness: Witness

    async def send(self, item: bytes) -> None:
        if b"#" in item:
            self.witness.overheard.append(item)
        await self.inner.send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        return await self.inner.receive(max_bytes)

    async def aclose(self) -> None:
        await self.inner.aclose()

    async def __aenter__(self) -> Overheard:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.aclose()
