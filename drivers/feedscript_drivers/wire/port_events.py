"""Event lines of the wire as events of the port."""

from __future__ import annotations

from feedscript.launcher import port
from feedscript_drivers.wire.messages import EventLine
from feedscript_drivers.wire.protocol import STATES, FaultKind, Reason, spelled


def translate(line: EventLine, device_s: float) -> port.Event | None:
    """The port's event for a line; None for one that a later version added."""
    match line.word, line.numbers:
        case "LEFT", (feed_id,):
            return port.Left(device_s=device_s, feed_id=feed_id)
        case "MISS", (feed_id, reason):
            return port.NotSent(device_s=device_s, feed_id=feed_id, reason=reason_name(reason))
        case "LOST", (feed_id, reason):
            return port.OutcomeUnknown(
                device_s=device_s, feed_id=feed_id, reason=reason_name(reason)
            )
        case "STATE", (state, reason) if state < len(STATES):
            return port.StateChanged(
                device_s=device_s, state=STATES[state], reason=reason_name(reason)
            )
        case "FAULT", (kind, detail):
            return port.Fault(device_s=device_s, kind=_fault(kind), detail=str(detail))
        case _:
            return None


def reason_name(number: int) -> str:
    """A reason in words; one of a later version by its number."""
    try:
        return spelled(Reason(number))
    except ValueError:
        return f"reason {number}"


def _fault(number: int) -> str:
    try:
        return spelled(FaultKind(number))
    except ValueError:
        return f"fault {number}"
