"""The far end of the wire: lines in, lines out, and the launcher behind them.

Sans-IO: bytes and moments go in, bytes come out; nothing here waits or looks at a clock.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from feedscript_drivers.wire.codec import Keyed, Line, LineReader, Plain, Refused, plain_line
from feedscript_drivers.wire.messages import (
    BadCommand,
    Beat,
    Command,
    EventLine,
    Heartbeat,
    Reply,
    read_host_body,
)
from feedscript_drivers.wire.protocol import (
    SEQUENCE_AHEAD,
    STATES,
    WITHOUT_KEY,
    WITHOUT_SESSION,
    Code,
    Number,
    Reason,
    StopCharacter,
)
from feedscript_drivers.wire.seal import Direction, KeyedSeal

from feedscript_simulator.commands import HANDLERS, HELD_BACK, STORING
from feedscript_simulator.event_book import EventBook
from feedscript_simulator.feeder import Departure
from feedscript_simulator.machine import Machine
from feedscript_simulator.plant import Plant, Rates
from feedscript_simulator.refusal import Refusal
from feedscript_simulator.stored import Stored

_MOST_COUNT = 65535
_HAIR_MS = 1e-4
_KNOWN_NONCES = 4


@dataclass(frozen=True, slots=True)
class Make:
    """What one launcher is made of; a power cut builds it anew from the same parts."""

    stored: Stored
    rates: Rates
    hopper: int
    jams_at: frozenset[int] = frozenset()
    cable: bool = True  # a wire that a person plugged in needs no key
    has_switch: bool = True
    clock_ppm: float = 0.0  # how much faster than true its clock runs
    clock_start_ms: int = 0


@dataclass(slots=True)
class Counts:
    """Lines that had no effect, by why."""

    bad: int = 0
    stale: int = 0
    forged: int = 0
    long: int = 0


@dataclass(slots=True)
class FarEnd:
    """``depart`` is called with every ball that leaves, power cut or not."""

    make: Make
    depart: Callable[[Departure], None] = lambda _departure: None
    watch: Callable[[str, str], None] = lambda _kind, _text: None
    machine: Machine = field(init=False)
    events: EventBook = field(init=False)
    counts: Counts = field(init=False)
    seal: KeyedSeal | None = field(init=False)  # what is known of the key since power-up
    keyed: bool = field(init=False, default=False)  # the session was opened keyed
    nonce: int | None = field(init=False, default=None)
    powered_s: float = 0.0
    obeyed: int = 0  # lines taken in full standing, of which there may be several senders
    _out: bytearray = field(default_factory=bytearray)
    _reader: LineReader = field(default_factory=lambda: LineReader(stop_characters=True))
    _last_sequence: int | None = None
    _last_reply: Reply | None = None
    _owed: Callable[[], Reply] | None = None
    _nonces: deque[int] = field(default_factory=deque)

    def __post_init__(self) -> None:
        self._boot(cause=0)

    # Power and time

    def power_cycle(self, now_s: float, cause: int = 0) -> None:
        """Power off and on: all but the slow memory is forgotten, and it is not armed."""
        self.powered_s = now_s
        self._out.clear()
        self._boot(cause)

    def _boot(self, cause: int) -> None:
        make = self.make
        make.stored.boots += 1
        self.events, self.counts = EventBook(), Counts()
        self.machine = Machine(
            stored=make.stored,
            plant=Plant(make.rates, make.stored.get(Number.SETTLE_RPM)),
            report=self._report,
            depart=self.depart,
            hopper=make.hopper,
            jams_at=make.jams_at,
        )
        self.machine.now_ms = float(make.clock_start_ms)
        self.seal, self.keyed, self.nonce = None, False, None
        self._renew_key()
        self._nonces = deque(maxlen=_KNOWN_NONCES)
        self._reader = LineReader(stop_characters=True)
        self._last_sequence, self._last_reply, self._owed = None, None, None
        self._report("BOOT", make.stored.boots, cause)
        self._say_events()

    def _renew_key(self) -> None:
        """Take the stored key; the counters of this power-up go on."""
        key, before = self.make.stored.key, self.seal
        if key is None:  # what is still said in a keyed session is said under the old one
            return
        seal = KeyedSeal(key, Direction.LAUNCHER, self.make.stored.boots, nonce=self.nonce or 0)
        if before is not None:
            seal.sent, seal.heard = before.sent, before.heard
        self.seal = seal

    def set_key(self, key: bytes | None) -> None:
        """Pairing put a key in place, or took it away."""
        self.make.stored.key = key
        self._renew_key()

    def device_ms(self, now_s: float) -> float:
        """The launcher's clock."""
        run_ms = (now_s - self.powered_s) * 1000 * (1 + self.make.clock_ppm * 1e-6)
        return self.make.clock_start_ms + run_ms

    def next_wake_s(self) -> float | None:
        """The next moment at which something happens by itself."""
        wake_ms = self.machine.next_wake_ms()
        if wake_ms is None:
            return None
        run_ms = (wake_ms - self.make.clock_start_ms) / (1 + self.make.clock_ppm * 1e-6)
        # A microsecond more, so that rounding never makes the moment seem still to come.
        return self.powered_s + run_ms / 1000 + 1e-6

    def advance(self, now_s: float) -> None:
        """Let everything happen that is due."""
        # A hair ahead, or rounding could ask to be woken again at the very moment just reached.
        self.machine.advance(self.device_ms(now_s) + _HAIR_MS)
        self._pay_reply()
        self._say_events()

    # Bytes

    def receive(self, data: bytes, now_s: float) -> None:
        """Bytes of the host."""
        self.advance(now_s)
        for item in self._reader.feed(data):
            match item:
                case StopCharacter.EMERGENCY:
                    self.machine.emergency(Reason.STOP_CHARACTER)
                case StopCharacter.STOP:
                    self.machine.stop(Reason.STOP_CHARACTER)
                case StopCharacter.HOLD:
                    self.machine.hold(Reason.STOP_CHARACTER)
                case _:
                    self._take(item)
            self._pay_reply()
            self._say_events()

    def take_output(self) -> bytes:
        """What is to be sent to the host; each byte once."""
        out, self._out = bytes(self._out), bytearray()
        return out

    def _take(self, line: Line) -> None:
        match line:
            case Refused():
                which = "long" if line.too_long else "bad"
                self._count(which)
            case Keyed():
                nonce = 0 if self._is_open_line(line) else self.nonce or 0
                known = self.seal if self.make.stored.key is not None else None
                if known is None or not known.accepts(line, nonce):
                    self._count("forged")
                else:
                    self._judge(line.body, keyed=True)
            case Plain():
                self._judge(line.body, keyed=False)

    @staticmethod
    def _is_open_line(line: Keyed) -> bool:
        return line.body.split(" ")[1:2] == ["OPEN"]

    def _count(self, which: str) -> None:
        value = min(getattr(self.counts, which) + 1, _MOST_COUNT)
        setattr(self.counts, which, value)

    # Lines

    def _judge(self, body: str, *, keyed: bool) -> None:
        message = read_host_body(body)
        self.obeyed += message is not None and (keyed or not self._needs_key())
        match message:
            case None:
                self._count("bad")
            case Heartbeat():
                if keyed or not self._needs_key():
                    self.machine.hear(self.absolute_ms(message.echo))
                self._send(self._beat(message), keyed=keyed and self.keyed)
            case Command() | BadCommand():
                self._sequence_in(message, keyed=keyed)

    def absolute_ms(self, ms: int) -> float:
        """A moment of the wire (modulo 2^32) near now."""
        now = self.machine.now_ms
        return ms + 2**32 * round((now - ms) / 2**32)

    def _beat(self, heartbeat: Heartbeat) -> Beat:
        machine = self.machine
        return Beat(
            heartbeat.number,
            int(machine.now_ms) % 2**32,
            self.events.last,
            STATES.index(machine.state),
            self.make.stored.boots,
        )

    def is_cable(self) -> bool:
        """A wire that a person plugged in, and no radio behind it."""
        return self.make.cable and self.make.stored.get(Number.KEY_NEEDED) != 1

    def _needs_key(self) -> bool:
        """Whether a plain line may only read and stop."""
        return self.keyed or not self.is_cable()

    def _sequence_in(self, command: Command | BadCommand, *, keyed: bool) -> None:
        full = keyed or not self._needs_key()
        if command.word in ("HELLO", "WHO") or not full:
            self._aside(command, keyed=keyed and self.keyed, full=full)
            return
        opens = command if command.word == "OPEN" and isinstance(command, Command) else None
        is_new = self._is_newer(command.sequence) if opens is None else self._is_fresh(opens)
        if not is_new:
            self._repeat(command)
            return
        self._last_sequence, self._last_reply, self._owed = command.sequence, None, None
        if opens is not None:
            self._nonces.append(opens.numbers()[1])
            self.machine.make_safe(Reason.OPENED)
            answer = partial(self._open, opens, keyed=keyed)
            if not self.machine.feeder.clear():
                # The ball under way still belongs to the session that fed it.
                self._owed = answer
                return
            reply = answer()
        else:
            reply = self._answer(command, full=True)
        if self._must_wait(command, reply):
            self._owed = partial(Reply, reply.sequence, None, reply.arguments)
            return
        self._last_reply = reply
        self._send(reply, keyed=self.keyed)

    def _aside(self, command: Command | BadCommand, *, keyed: bool, full: bool) -> None:
        """Outside the sequence; a reply that must wait is left out, the repeat will have it."""
        reply = self._answer(command, full=full)
        if not self._must_wait(command, reply):
            self._send(reply, keyed=keyed)

    def _must_wait(self, command: Command | BadCommand, reply: Reply) -> bool:
        held = command.word in HELD_BACK and reply.code is None
        return held and not self.machine.feeder.clear()

    def _is_fresh(self, opens: Command) -> bool:
        """One that was long on its way must not open an old session again."""
        return opens.numbers()[1] not in self._nonces

    def _is_newer(self, sequence: int) -> bool:
        if self._last_sequence is None:
            return True
        return 0 < (sequence - self._last_sequence) % 65536 <= SEQUENCE_AHEAD

    def _repeat(self, command: Command | BadCommand) -> None:
        if command.sequence != self._last_sequence:
            self._count("stale")
        elif self._last_reply is not None:
            self._send(self._last_reply, keyed=self.keyed)

    def _pay_reply(self) -> None:
        """Send the reply that was held back until no ball could leave any more."""
        if self._owed is not None and self.machine.feeder.clear():
            self._say_events()
            self._last_reply, self._owed = self._owed(), None
            self._send(self._last_reply, keyed=self.keyed)
            self._say_events()

    def _answer(self, command: Command | BadCommand, *, full: bool) -> Reply:
        code = command.code if isinstance(command, BadCommand) else self._barred(command, full)
        if code is not None or isinstance(command, BadCommand):
            return Reply(command.sequence, code)
        result = HANDLERS[command.word](self, command)
        if isinstance(result, Refusal):
            return Reply(command.sequence, result.code, result.details())
        return Reply(command.sequence, None, tuple(map(str, result)))

    def _barred(self, command: Command, full: bool) -> Code | None:
        """Key first, then cable, then session; the state and the rest are the command's own."""
        stores = command.word in STORING or (command.word == "HASH" and bool(command.arguments))
        if not full and (stores or command.word not in WITHOUT_KEY):
            return Code.KEY_NEEDED
        if stores and not self.is_cable():
            return Code.CABLE_ONLY
        if self.nonce is None and (stores or command.word not in WITHOUT_SESSION):
            return Code.NO_SESSION
        return None

    def _open(self, command: Command, *, keyed: bool) -> Reply:
        """The opening itself, under its own nonce from now on."""
        nonce = command.numbers()[1]
        self.nonce, self.keyed = nonce, keyed
        if self.seal is not None:
            self.seal.nonce, self.seal.sent = nonce, 0
        return self._answer(command, full=True)

    # Output

    def _report(self, word: str, *numbers: int) -> None:
        now_ms = self.machine.now_ms if word != "BOOT" else float(self.make.clock_start_ms)
        self.events.note(now_ms, word, *numbers)
        self.watch(word, " ".join(map(str, numbers)))

    def _say_events(self) -> None:
        for line in self.events.unsent:
            self._send(line, keyed=self.keyed)
        self.events.unsent.clear()

    def repeat_events(self, first: int) -> bool:
        """Put kept events on the wire again, after the reply under way; false if too old."""
        lines = self.events.repeat_from(first)
        if lines is None:
            return False
        self.events.unsent += lines
        return True

    def _send(self, message: Reply | Beat | EventLine, *, keyed: bool) -> None:
        body = message.body()
        if keyed and self.seal is not None:
            self._out += self.seal.close(body)
        else:
            self._out += plain_line(body)
