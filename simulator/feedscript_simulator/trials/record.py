"""What the stand-in saw of itself: its balls, its states, its drives' power, by the host's clock.

The balls are those that came out, not those that it reported; the power is the drives' own.
"""

from __future__ import annotations

from feedscript_drivers.wire.protocol import STATES, Reason, spelled
from msgspec import Struct, field

from feedscript.launcher.port import LauncherState
from feedscript.launcher.trials.far_end import Kind, Seen
from feedscript_simulator.controller import Controller
from feedscript_simulator.feeder import Departure


class FarRecord(Struct):
    """``rows`` in the order in which they happened; ``end`` is there once it is built."""

    end: Controller | None = None
    rows: list[Seen] = field(default_factory=list)
    _powered: bool = False

    def left(self, departure: Departure) -> None:
        """A ball came out."""
        end = self._end()
        self.rows.append(
            Seen(
                at_s=end.host_s(departure.device_ms),
                kind=Kind.LEFT,
                feed_id=departure.feed_id,
                session=end.machine.memory.session or 0,
                drives=tuple(float(drive) for drive in departure.drives),
            )
        )

    def watch(self, word: str, numbers: str) -> None:
        """An event of the launcher, before any line carries it."""
        if self.end is None or word not in ("STATE", "BOOT"):
            return
        end = self.end
        at_boot = STATES.index(LauncherState.SAFE), int(Reason.POWER_UP)
        state, reason = map(int, numbers.split()) if word == "STATE" else at_boot
        self.rows.append(
            Seen(
                at_s=end.host_s(end.machine.now_ms),
                kind=Kind.STATE,
                state=STATES[state],
                reason=spelled(Reason(reason)),
                by_person=reason == Reason.PERSON,
            )
        )

    def look(self, now_s: float) -> None:
        """See whether the drives have power; it may be gone since a little while."""
        machine = self._end().machine
        powered = machine.plant.powered(machine.now_ms)
        if powered != self._powered:
            self._powered = powered
            until_ms = machine.plant.powered_until_ms
            if not powered and until_ms is not None:
                now_s = min(now_s, self._end().host_s(until_ms))
            self.rows.append(Seen(at_s=now_s, kind=Kind.POWER, powered=powered))

    def struck(self, fault: str, at_s: float) -> None:
        """A named fault took effect."""
        self.rows.append(Seen(at_s=at_s, kind=Kind.STRUCK, fault=fault))

    def _end(self) -> Controller:
        assert self.end is not None, "nothing happens before it is built"
        return self.end
