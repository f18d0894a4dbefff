"""A stand-in launcher: far end, the person beside it and the balls it sends, from one profile.

What it does not model: electrical noise, brown-out, wear, balls that differ, wheels that are out
of balance, wind at the mouth, a gate whose lead varies, a home sensor that is dead, and steps that
are lost. It passes no test for these.
"""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct, field

from feedscript.launcher.profile.model import Profile
from feedscript.launcher.trials.far_end import Seen
from feedscript.launcher.trials.trial import Trial
from feedscript_simulator.controller import Make
from feedscript_simulator.far_end import FarEnd
from feedscript_simulator.faults import Faults
from feedscript_simulator.feeder import Departure
from feedscript_simulator.person import Person
from feedscript_simulator.plant import rates_of
from feedscript_simulator.stored import stored_for
from feedscript_simulator.trials.line import Line
from feedscript_simulator.trials.record import FarRecord
from feedscript_simulator.trials.strikes import Strikes


class StandIn(Struct):
    """Sans-IO, like its parts. ``departures`` is the truth about every ball that left."""

    end: FarEnd
    person: Person
    seed: int
    record: FarRecord
    strikes: Strikes
    departures: list[Departure] = field(default_factory=list)
    changed: Callable[[], None] = lambda: None  # whoever carries the bytes looks anew
    _out: bytearray = field(default_factory=bytearray)
    _now_s: float = 0.0
    _line: Line | None = None  # where named faults may befall what crosses it

    def __post_init__(self) -> None:
        self._now_s = self.end.powered_s
        line = Line(self.end.receive, self._tell, self.record.struck)
        if self.strikes.trials:
            self._line = line
        self.strikes.begin(self.end, self.person, line, self._now_s)

    def receive(self, data: bytes, now_s: float) -> None:
        if self._line is None:
            self.end.receive(data, now_s)
        else:
            self._line.to_launcher(data, now_s)
        self._look(now_s)

    def advance(self, now_s: float) -> None:
        self.end.advance(now_s)
        if self._line is not None:
            self._line.deliver(now_s)
        self._look(now_s)

    def _look(self, now_s: float) -> None:
        self._now_s = now_s
        self.person.look(now_s)
        self.strikes.act(now_s)
        self.record.look(now_s)

    def next_wake_s(self) -> float | None:
        moments = [self.end.next_wake_s(), self.person.next_wake_s(), self.strikes.next_wake_s()]
        moments += [self._line.next_wake_s()] if self._line is not None else []
        known = [moment for moment in moments if moment is not None]
        return min(known) if known else None

    def take_output(self) -> bytes:
        """What is to be sent to the host; each byte once."""
        if self._line is None:
            return self.end.take_output()
        self._line.to_host(self.end.take_output(), self._now_s)
        out, self._out = bytes(self._out), bytearray()
        return out

    def seen(self) -> tuple[Seen, ...]:
        """What it saw of itself so far."""
        return tuple(sorted(self.record.rows, key=lambda row: row.at_s))

    def _tell(self, data: bytes) -> None:
        self._out += data


def build(
    profile: Profile,
    *,
    seed: int = 0,
    faults: Faults | None = None,
    trials: tuple[Trial, ...] = (),
    powered_s: float = 0.0,
    arms_by_itself: bool = True,
    cable: bool = True,
    key: bytes | None = None,
    watch: Callable[[str, str], None] = lambda _kind, _text: None,
    boots: int = 0,
) -> StandIn:
    """A stand-in that was set up with this profile and is switched on at ``powered_s``."""
    faults = faults or Faults()
    stored = stored_for(profile)
    stored.key = key
    stored.boots = boots
    departures: list[Departure] = []
    record = FarRecord()
    strikes = Strikes(trials, record)
    ppm = strikes.clock_ppm()
    make = Make(
        stored=stored,
        rates=rates_of(profile),
        hopper=profile.limits.hopper_balls,
        jams_at=faults.jams_at,
        befalls=strikes.befalls,
        cable=cable,
        clock_ppm=faults.clock_ppm if ppm is None else ppm,
    )

    def depart(departure: Departure) -> None:
        departures.append(departure)
        record.left(departure)
        strikes.left()

    def see(word: str, numbers: str) -> None:
        record.watch(word, numbers)
        strikes.watch(word, numbers)
        watch(word, numbers)

    end = FarEnd(make, depart=depart, watch=see, powered_s=powered_s)
    record.end = end
    person = Person(end, arms=arms_by_itself, first_load=faults.loaded)
    return StandIn(end, person, seed, record, strikes, departures)
