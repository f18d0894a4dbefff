"""The far end of the wire: lines in, lines out, and the launcher behind them.

Sans-IO: bytes and moments go in, bytes come out; nothing here waits or looks at a clock.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
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
    ASIDE,
    SEQUENCE_AHEAD,
    STATES,
    WITHOUT_KEY,
    WITHOUT_SESSION,
    Code,
    Reason,
    StopCharacter,
)

from feedscript.override import override
from feedscript_simulator.commands import HANDLERS, HELD_BACK, STORING
from feedscript_simulator.controller import Controller
from feedscript_simulator.refusal import Refusal

_KNOWN_NONCES = 4


class FarEnd(Controller):
    """A controller at the end of a line. ``obeyed`` counts the lines taken in full standing."""

    obeyed: int = 0

    @override
    def boot(self, cause: int) -> None:
        super().boot(cause)
        self._out = bytearray()
        self._reader = LineReader(stop_characters=True)
        self._last_sequence: int | None = None
        self._last_reply: Reply | None = None
        self._owed: Callable[[], Reply] | None = None
        self._nonces: deque[int] = deque(maxlen=_KNOWN_NONCES)
        self._say_events()

    def power_cycle(self, now_s: float, cause: int = 0) -> None:
        """Power off and on: all but the slow memory is forgotten, and it is not armed."""
        self.powered_s = now_s
        self.boot(cause)

    @override
    def advance(self, now_s: float) -> None:
        super().advance(now_s)
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
                self.counts.count(which)
            case Keyed():
                nonce = 0 if self._is_open_line(line) else self.nonce or 0
                known = self.seal if self.make.stored.key is not None else None
                if known is None or not known.accepts(line, nonce):
                    self.counts.count("forged")
                else:
                    self._judge(line.body, keyed=True)
            case Plain():
                self._judge(line.body, keyed=False)

    @staticmethod
    def _is_open_line(line: Keyed) -> bool:
        return line.body.split(" ")[1:2] == ["OPEN"]

    # Lines

    def _judge(self, body: str, *, keyed: bool) -> None:
        message = read_host_body(body)
        full = keyed or not self.needs_key()
        self.obeyed += message is not None and full
        match message:
            case None:
                self.counts.count("bad")
            case Heartbeat():
                if full:
                    self.machine.hear(self.absolute_ms(message.echo))
                self._send(self._beat(message), keyed=keyed and self.keyed)
            case Command() | BadCommand():
                self._sequence_in(message, keyed=keyed, full=full)

    def _beat(self, heartbeat: Heartbeat) -> Beat:
        machine = self.machine
        return Beat(
            heartbeat.number,
            int(machine.now_ms) % 2**32,
            self.events.last,
            STATES.index(machine.state),
            self.make.stored.boots,
        )

    def _sequence_in(self, command: Command | BadCommand, *, keyed: bool, full: bool) -> None:
        if command.word in ASIDE or not full:
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
            self.counts.count("stale")
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
        self.seal_under(command.numbers()[1], keyed=keyed)
        return self._answer(command, full=True)

    # Output

    def _say_events(self) -> None:
        for line in self.events.unsent:
            self._send(line, keyed=self.keyed)
        self.events.unsent.clear()

    def _send(self, message: Reply | Beat | EventLine, *, keyed: bool) -> None:
        body = message.body()
        if keyed and self.seal is not None:
            self._out += self.seal.close(body)
        else:
            self._out += plain_line(body)
