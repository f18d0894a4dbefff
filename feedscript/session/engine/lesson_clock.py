"""The lesson's clock: from the plan's time to the moment by a launcher's own clock.

The first launcher's clock is the lesson's: what is due there is computed once from one anchor and
one pace, never from the moment something else was done, so nothing adds up. Further launchers
follow by the measured difference of their clocks to the first.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.launcher.port import ClockReading


class _Stretch(msgspec.Struct, frozen=True):
    """From this moment of the plan on, which is at this moment of the lesson, a second of the plan
    takes so long."""

    plan_s: float
    lesson_s: float
    pace: float


class Timeline(msgspec.Struct, eq=False):
    """Plan seconds to lesson seconds (the first launcher's clock), device and host seconds.

    ``readings`` are the newest of each launcher. Anchored anew whenever people took time.
    """

    readings: list[ClockReading] = []
    _stretches: tuple[_Stretch, ...] = (_Stretch(0.0, 0.0, 1.0),)

    @property
    def pace(self) -> float:
        """Real seconds for one second of the plan, as it was chosen last."""
        return self._stretches[-1].pace

    def percent(self) -> int:
        """The pace as people say it: faster is more, 100 as written."""
        return round(100.0 / self.pace)

    def anchor(self, plan_s: float, lesson_s: float) -> None:
        """From now on this moment of the plan is at this moment of the lesson."""
        self._stretches = (_Stretch(plan_s, lesson_s, self.pace),)

    def set_pace(self, pace: float, plan_s: float) -> None:
        """Another pace from this moment of the plan on; what comes before it keeps its own, as the
        balls of a station whose neighbour has balls queued far ahead."""
        kept = tuple(one for one in self._stretches if one.plan_s < plan_s)
        new = _Stretch(plan_s, self.at(plan_s), pace)
        self._stretches = (*(kept or self._stretches[:1]), new)

    def at(self, plan_s: float) -> float:
        """When this moment of the plan is."""
        first, *later = self._stretches
        here = next((one for one in reversed(later) if one.plan_s <= plan_s), first)
        return here.lesson_s + (plan_s - here.plan_s) * here.pace

    def plan_s(self, lesson_s: float) -> float:
        """What moment of the plan it is then."""
        first, *later = self._stretches
        here = next((one for one in reversed(later) if one.lesson_s <= lesson_s), first)
        return here.plan_s + (lesson_s - here.lesson_s) / here.pace

    def put_off(self, plan_s: float, lesson_s: float) -> float:
        """Let this moment of the plan be no earlier than that; everything after it moves along."""
        late_s = lesson_s - self.at(plan_s)
        if late_s > 0.0:
            self._stretches = tuple(
                msgspec.structs.replace(one, lesson_s=one.lesson_s + late_s)
                for one in self._stretches
            )
        return self.at(plan_s)

    def device_s(self, launcher: int, lesson_s: float) -> float:
        """A moment of the lesson by a launcher's clock."""
        return lesson_s + self.readings[launcher].offset_s - self.readings[0].offset_s

    def lesson_s(self, launcher: int, device_s: float) -> float:
        """A moment by a launcher's clock, in the lesson."""
        return device_s - self.readings[launcher].offset_s + self.readings[0].offset_s

    def host_s(self, lesson_s: float) -> float:
        """A moment of the lesson by the host's clock."""
        return lesson_s - self.readings[0].offset_s

    def from_host(self, host_s: float) -> float:
        """A moment of the host's clock, in the lesson."""
        return host_s + self.readings[0].offset_s

    def measured(self, readings: Sequence[ClockReading]) -> None:
        """Take new readings of all clocks."""
        self.readings = list(readings)
