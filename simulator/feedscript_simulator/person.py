"""The simulated person at the launcher: fills the hopper and turns the arming switch.

Both only when the launcher waits to be armed, as the set-up steps have it.
"""

from __future__ import annotations

from msgspec import Struct

from feedscript.launcher.port import LauncherState
from feedscript_simulator.far_end import FarEnd

S = LauncherState


class Person(Struct):
    """Looks at the launcher whenever something happens; turns the switch after a moment."""

    end: FarEnd
    arms: bool
    after_s: float = 2.0
    first_load: int | None = None  # balls brought at first, where the hopper was not filled
    _turns_at_s: float | None = None

    def next_wake_s(self) -> float | None:
        return self._turns_at_s

    def look(self, now_s: float) -> None:
        """See what the launcher wants, and do what is due."""
        machine = self.end.machine
        waits = self.arms and machine.state is S.AWAITING_ARM and not machine.homing
        if not waits:
            self._turns_at_s = None
        elif self._turns_at_s is None:
            self._turns_at_s = now_s + self.after_s
        elif now_s >= self._turns_at_s:
            self._turns_at_s = None
            self.turn_key(now_s)

    def turn_key(self, now_s: float) -> None:
        """Fill the hopper; the switch off, if it was on, and on: the act that arms."""
        self.end.advance(now_s)
        machine = self.end.machine
        brought, self.first_load = self.first_load, None
        machine.feeder.hopper = self.end.make.hopper if brought is None else brought
        if machine.switch_on:
            machine.turn_switch(False)
        machine.turn_switch(True)
        self.end.advance(now_s)
