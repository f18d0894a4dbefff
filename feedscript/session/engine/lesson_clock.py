"""The lesson's clock: from the plan's time to the moment by a launcher's own clock.

The first launcher's clock is the lesson's: what is due there is computed once from one anchor and
one pace, never from the moment something else was done, so nothing adds up. Further launchers
follow by the measured difference of their clocks to the first.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.launcher.port import ClockReading


class Timeline(msgspec.Struct, eq=False):
    """Plan seconds to lesson seconds (the first launcher's clock), device and host seconds.

    ``readings`` are the newest of each launcher. Anchored anew whenever people took time.
    """

    readings: list[ClockReading] = []
    pace: float = 1.0  # real seconds for one second of the plan
    _plan_s: float = 0.0
    _lesson_s: float = 0.0

    def percent(self) -> int:
        """The pace as people say it: faster is more, 100 as written."""
        return round(100.0 / self.pace)

    def anchor(self, plan_s: float, lesson_s: float) -> None:
        """From now on this moment of the plan is at this moment of the lesson."""
        self._plan_s, self._lesson_s = plan_s, lesson_s

    def set_pace(self, pace: float, plan_s: float) -> None:
        """Another pace from this moment of the plan on."""
        self.anchor(plan_s, self.at(plan_s))
        self.pace = pace

    def at(self, plan_s: float) -> float:
        """When this moment of the plan is."""
        return self._lesson_s + (plan_s - self._plan_s) * self.pace

    def plan_s(self, lesson_s: float) -> float:
        """What moment of the plan it is then."""
        return self._plan_s + (lesson_s - self._lesson_s) / self.pace

    def put_off(self, plan_s: float, lesson_s: float) -> float:
        """Let this moment of the plan be no earlier than that; everything after it moves along."""
        late = lesson_s - self.at(plan_s)
        if late > 0.0:
            self._lesson_s += late
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
