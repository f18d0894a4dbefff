"""Event lines of the wire as events of the port."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeAlias

from feedscript.launcher import port
from feedscript_drivers.wire.messages import EventLine
from feedscript_drivers.wire.protocol import STATES, FaultKind, Reason, spelled

_Translator: TypeAlias = Callable[[float, int, int], port.Event | None]


def _state(device_s: float, state: int, reason: int) -> port.Event | None:
    if state >= len(STATES):
        return None
    return port.StateChanged(device_s=device_s, state=STATES[state], reason=reason_name(reason))


def _not_sent(device_s: float, feed_id: int, reason: int) -> port.Event:
    return port.NotSent(device_s=device_s, feed_id=feed_id, reason=reason_name(reason))


def _unknown(device_s: float, feed_id: int, reason: int) -> port.Event:
    return port.OutcomeUnknown(device_s=device_s, feed_id=feed_id, reason=reason_name(reason))


def _found(device_s: float, kind: int, detail: int) -> port.Event:
    return port.Fault(device_s=device_s, kind=_fault(kind), detail=str(detail))


def _left(device_s: float, feed_id: int, _: int) -> port.Event:
    return port.Left(device_s=device_s, feed_id=feed_id)


def _silent(_device_s: float, _first: int, _second: int) -> None:
    """The driver learns of a start in another way; the port has no such event."""


#: Each event of the wire: how many numbers it has, and what it becomes.
EVENTS: Final[dict[str, tuple[int, _Translator]]] = {
    "LEFT": (1, _left),
    "MISS": (2, _not_sent),
    "LOST": (2, _unknown),
    "STATE": (2, _state),
    "FAULT": (2, _found),
    "BOOT": (2, _silent),
}


def translate(line: EventLine, device_s: float) -> port.Event | None:
    """The port's event for a line; None for one that has none, or that a later version added."""
    known = EVENTS.get(line.word)
    if known is None or len(line.numbers) != known[0]:
        return None
    first, second = (*line.numbers, 0)[:2]
    return known[1](device_s, first, second)


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
