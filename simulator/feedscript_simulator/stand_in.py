"""A stand-in launcher: far end, the person beside it and the balls it sends, from one profile.

What it does not model: electrical noise, brown-out, wear, balls that differ, wheels that are out
of balance, wind at the mouth, and a gate whose lead varies. It passes no test for these.
"""

from __future__ import annotations

from collections.abc import Callable

from msgspec import Struct, field

from feedscript.launcher.profile.model import Profile
from feedscript_simulator.controller import Make
from feedscript_simulator.far_end import FarEnd
from feedscript_simulator.faults import Faults
from feedscript_simulator.feeder import Departure
from feedscript_simulator.person import Person
from feedscript_simulator.plant import rates_of
from feedscript_simulator.stored import stored_for


class StandIn(Struct):
    """Sans-IO, like its parts. ``departures`` is the truth about every ball that left."""

    end: FarEnd
    person: Person
    seed: int
    departures: list[Departure] = field(default_factory=list)
    changed: Callable[[], None] = lambda: None  # whoever carries the bytes looks anew

    def receive(self, data: bytes, now_s: float) -> None:
        self.end.receive(data, now_s)
        self.person.look(now_s)

    def advance(self, now_s: float) -> None:
        self.end.advance(now_s)
        self.person.look(now_s)

    def next_wake_s(self) -> float | None:
        moments = [self.end.next_wake_s(), self.person.next_wake_s()]
        known = [moment for moment in moments if moment is not None]
        return min(known) if known else None

    def take_output(self) -> bytes:
        return self.end.take_output()


def build(
    profile: Profile,
    *,
    seed: int = 0,
    faults: Faults | None = None,
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
    make = Make(
        stored=stored,
        rates=rates_of(profile),
        hopper=profile.limits.hopper_balls,
        jams_at=faults.jams_at,
        cable=cable,
        clock_ppm=faults.clock_ppm,
    )
    end = FarEnd(make, depart=departures.append, watch=watch, powered_s=powered_s)
    return StandIn(
        end, Person(end, arms=arms_by_itself, first_load=faults.loaded), seed, departures
    )
