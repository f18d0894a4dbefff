"""The launcher's controller: what it is made of, and what it has been since it was switched on."""

from __future__ import annotations

from collections.abc import Callable

from feedscript_drivers.wire.protocol import LOG_START, Number
from feedscript_drivers.wire.seal import Direction, KeyedSeal
from msgspec import Struct

import feedscript
from feedscript_simulator.event_book import EventBook
from feedscript_simulator.feeder import SOUND_BALL, Befallen, Departure
from feedscript_simulator.machine import Machine
from feedscript_simulator.plant import Plant, Rates
from feedscript_simulator.stored import Stored

_MOST_COUNT = 65535
_HAIR_MS = 1e-4


def _as_number(version: str) -> int:
    major, minor, patch = (int(part) for part in version.split("."))
    return 10_000 * major + 100 * minor + patch


#: It has the version of the firmware that it comes with.
FIRMWARE = _as_number(feedscript.__version__)


class Make(Struct, frozen=True):
    """What one launcher is made of; a power cut builds it anew from the same parts."""

    stored: Stored
    rates: Rates
    hopper: int
    jams_at: frozenset[int] = frozenset()
    befalls: Callable[[], Befallen] = lambda: SOUND_BALL  # what befalls each ball
    cable: bool = True  # a wire that a person plugged in needs no key
    has_switch: bool = True
    clock_ppm: float = 0.0  # how much faster than true its clock runs
    clock_start_ms: int = 0
    firmware: int = FIRMWARE


class Counts(Struct):
    """Lines that had no effect, by why."""

    bad: int = 0
    stale: int = 0
    forged: int = 0
    long: int = 0

    def count(self, which: str) -> None:
        setattr(self, which, min(getattr(self, which) + 1, _MOST_COUNT))


class Controller:
    """``depart`` is called with every ball that leaves, power cut or not."""

    machine: Machine
    events: EventBook
    counts: Counts
    seal: KeyedSeal | None  # what is known of the key since power-up
    keyed: bool  # the session was opened keyed
    nonce: int | None  # of the opening in force

    def __init__(
        self,
        make: Make,
        depart: Callable[[Departure], None] = lambda _departure: None,
        watch: Callable[[str, str], None] = lambda _kind, _text: None,
        powered_s: float = 0.0,
    ) -> None:
        self.make = make
        self.depart = depart
        self.watch = watch
        self.powered_s = powered_s
        self.boot(cause=0)

    # Power and time

    def boot(self, cause: int) -> None:
        """Switched on: nothing is known but what is stored."""
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
            befalls=make.befalls,
        )
        self.machine.now_ms = float(make.clock_start_ms)
        self.seal, self.keyed, self.nonce = None, False, None
        self._renew_key()
        self._report("BOOT", make.stored.boots, cause)
        if cause:
            make.stored.note_fault(0, LOG_START + cause, 0)

    def device_ms(self, now_s: float) -> float:
        """The launcher's clock."""
        run_ms = (now_s - self.powered_s) * 1000 * (1 + self.make.clock_ppm * 1e-6)
        return self.make.clock_start_ms + run_ms

    def host_s(self, device_ms: float) -> float:
        """The moment of the host's clock at which the launcher's own stands so."""
        run_ms = device_ms - self.make.clock_start_ms
        return self.powered_s + run_ms / 1000 / (1 + self.make.clock_ppm * 1e-6)

    def absolute_ms(self, ms: int) -> float:
        """A moment of the wire (modulo 2^32) near now."""
        now = self.machine.now_ms
        return ms + 2**32 * round((now - ms) / 2**32)

    def next_wake_s(self) -> float | None:
        """The next moment at which something happens by itself."""
        wake_ms = self.machine.next_wake_ms()
        if wake_ms is None:
            return None
        # A microsecond more, so that rounding never makes the moment seem still to come.
        return self.host_s(wake_ms) + 1e-6

    def advance(self, now_s: float) -> None:
        """Let everything happen that is due."""
        # A hair ahead, or rounding could ask to be woken again at the very moment just reached.
        self.machine.advance(self.device_ms(now_s) + _HAIR_MS)

    # Keys

    def set_key(self, key: bytes | None) -> None:
        """Pairing put a key in place, or took it away."""
        self.make.stored.key = key
        self._renew_key()

    def _renew_key(self) -> None:
        """Take the stored key; the counters of this power-up go on."""
        key, before = self.make.stored.key, self.seal
        if key is None:  # what is still said in a keyed session is said under the old one
            return
        seal = KeyedSeal(key, Direction.LAUNCHER, self.make.stored.boots, nonce=self.nonce or 0)
        if before is not None:
            seal.sent, seal.heard = before.sent, before.heard
        self.seal = seal

    def seal_under(self, nonce: int, *, keyed: bool) -> None:
        """A new opening: its nonce, and a counter of the launcher's that begins anew."""
        self.nonce, self.keyed = nonce, keyed
        if self.seal is not None:
            self.seal.nonce, self.seal.sent = nonce, 0

    def is_cable(self) -> bool:
        """A wire that a person plugged in, and no radio behind it."""
        return self.make.cable and self.make.stored.get(Number.KEY_NEEDED) != 1

    def needs_key(self) -> bool:
        """Whether a plain line may only read and stop."""
        return self.keyed or not self.is_cable()

    # Events

    def _report(self, word: str, *numbers: int) -> None:
        now_ms = self.machine.now_ms if word != "BOOT" else float(self.make.clock_start_ms)
        self.events.note(now_ms, word, *numbers)
        self.watch(word, " ".join(map(str, numbers)))

    def repeat_events(self, first: int) -> bool:
        """Put kept events on the wire again, after the reply under way; false if too old."""
        lines = self.events.repeat_from(first)
        if lines is None:
            return False
        self.events.unsent += lines
        return True
