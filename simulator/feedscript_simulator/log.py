"""What the stand-in tells its user: one happening a line, for people or as JSON."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from typing import Any

from feedscript_drivers.wire.protocol import STATES, FaultKind, Reason, spelled
from msgspec import Struct

from feedscript.formats import headed
from feedscript_simulator.balls import Balls
from feedscript_simulator.stand_in import StandIn


class Log(Struct):
    """Turns events of a stand-in into lines. ``say`` prints one."""

    balls: Balls
    as_json: bool
    say: Callable[[str], None]
    stand_in: StandIn | None = None

    def tell(self, event: str, text: str, **facts: Any) -> None:
        """One line. A launcher goes on when nobody reads any more what it tells."""
        line = json.dumps(headed("stand-in-line", {"event": event, **facts}))
        try:
            self.say(line if self.as_json else text)
        except BrokenPipeError:
            self.say = lambda _line: None
            # What is still to be written out at the end has nobody to go to either (Python's own
            # advice, "Note on SIGPIPE" of the module signal).
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())

    def watch(self, word: str, numbers: str) -> None:
        """An event of the launcher, as the far end reports it."""
        values = [int(number) for number in numbers.split()]
        at_s = self.stand_in.end.machine.now_ms / 1000 if self.stand_in else 0.0
        match word, values:
            case "LEFT", [feed_id]:
                self._ball(feed_id, at_s)
            case "STATE", [state, reason]:
                self._state(STATES[state].value, Reason(reason), at_s)
            case "MISS" | "LOST", [feed_id, reason]:
                why = spelled(Reason(reason))
                what = "not sent" if word == "MISS" else "outcome unknown"
                self.tell(
                    "not-sent" if word == "MISS" else "outcome-unknown",
                    f"{at_s:9.3f} s  feed {feed_id} {what}: {why}",
                    at_s=at_s,
                    feed_id=feed_id,
                    reason=why,
                )
            case "FAULT", [kind, detail]:
                name = spelled(FaultKind(kind))
                self.tell("fault", f"{at_s:9.3f} s  fault: {name}", at_s=at_s, fault=name)
                del detail
            case "BOOT", [boot, _]:
                self.tell("power-up", f"{at_s:9.3f} s  switched on, power-up {boot}", boot=boot)

    def _ball(self, feed_id: int, at_s: float) -> None:
        assert self.stand_in is not None
        departure = self.stand_in.departures[-1]
        (landing,) = self.balls.fly([departure])
        side = "right" if landing.right_m >= 0 else "left"
        self.tell(
            "left",
            f"{at_s:9.3f} s  ball {feed_id} left at {landing.speed_mps:.1f} m/s, lands "
            f"{landing.ahead_m:.2f} m ahead, {abs(landing.right_m):.2f} m {side}",
            at_s=at_s,
            feed_id=feed_id,
            drives=list(departure.drives),
            pose_deg=[angle / 100 for angle in departure.pose_cdeg],
            landing_m=[round(landing.right_m, 3), round(landing.ahead_m, 3)],
            speed_mps=round(landing.speed_mps, 3),
        )

    def _state(self, state: str, reason: Reason, at_s: float) -> None:
        words = {
            Reason.SILENCE: "stopped by itself: the host was silent",
            Reason.HOLD_LIMIT: "stopped by itself: the hold lasted too long",
            Reason.DRIVES_OFF: "drives without power, safe",
        }.get(reason, f"{state} ({spelled(reason)})")
        self.tell(
            "state", f"{at_s:9.3f} s  {words}", at_s=at_s, state=state, reason=spelled(reason)
        )
