"""A launcher's refusal in words: its cause with the detail, and what to do about it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from feedscript.launcher.port import LauncherState
from feedscript_drivers.wire.messages import Reply
from feedscript_drivers.wire.protocol import STATES, VERSION, Code, FaultKind, Number, spelled

_LAUNCHER_DECIDES: Final = "the launcher's own limits, state and memory decide; read its status"

OTHER_VERSION: Final = "load the firmware that came with this feedscript, or use its feedscript"

_FIXES: Final[dict[Code, str]] = {
    Code.HELD: "go on first, or stop",
    Code.KEY_NEEDED: "pair it over its cable with `feedscript pair --on serial:DEVICE`",
    Code.CABLE_ONLY: "do this over the launcher's own cable",
    Code.LATCHED: "release the emergency stop, then turn the arming switch on and off",
    Code.FAULT_PRESENT: "fix the cause at the launcher, then disarm it",
    Code.VERSION: OTHER_VERSION,
    Code.NOT_CONFIGURED: (
        "`feedscript set-up --on serial:DEVICE --launcher FILE --board FILE` over its cable"
    ),
    Code.OUT_OF_LIMITS: (
        "its stored limits are narrower than the profile: `feedscript set-up` over its cable"
    ),
}

#: What to do in a state that a command does not belong to.
_IN_STATE: Final[dict[LauncherState, str]] = {
    LauncherState.SAFE: "arm it first; arming ends with a person's act at the launcher",
    LauncherState.AWAITING_ARM: "turn the arming switch at the launcher first",
    LauncherState.STOPPING: "wait until the drives are without power, then arm it",
    LauncherState.STOPPED: _FIXES[Code.LATCHED],
    LauncherState.FAULT: _FIXES[Code.FAULT_PRESENT],
    LauncherState.ARMED: "disarm it first",
    LauncherState.HELD: _FIXES[Code.HELD],
}


def refusal(reply: Reply) -> str:
    """Why, in the protocol's own name of it, with what the detail says."""
    code = _code(reply)
    name = spelled(code) if code is not None else f"code {reply.code}"
    detail = _detail(code, reply)
    return f"{name} ({detail})" if detail else name


def fix(reply: Reply) -> str:
    """What a person can do about it."""
    code = _code(reply)
    state = _read(reply, lambda number: STATES[number]) if code is Code.WRONG_STATE else None
    if isinstance(state, LauncherState):
        return _IN_STATE[state]
    return _FIXES.get(code, _LAUNCHER_DECIDES) if code is not None else _LAUNCHER_DECIDES


_DETAILS: Final[dict[Code, Callable[[int], str]]] = {
    Code.WRONG_STATE: lambda number: f"it is {STATES[number].value}",
    Code.ID_USED: lambda number: f"the highest is {number}",
    Code.OUT_OF_LIMITS: lambda number: spelled(Number(number)),
    Code.ABOVE_CEILING: lambda number: f"drive {number}",
    Code.LATE: lambda number: f"its clock stands at {number} ms",
    Code.TOO_SOON: lambda number: f"the least interval is {number} ms",
    Code.TOO_FAR: lambda number: f"the horizon is {number} ms",
    Code.FAULT_PRESENT: lambda number: spelled(FaultKind(number)),
    Code.VERSION: lambda number: f"it speaks {number}, and this feedscript {VERSION}",
    Code.NOT_CONFIGURED: lambda number: (
        f"{spelled(Number(number))} is missing" if number else "no profile's hash is stored"
    ),
}


def _detail(code: Code | None, reply: Reply) -> str:
    reader = _DETAILS.get(code) if code is not None else None
    told = _read(reply, reader) if reader is not None else None
    return told if isinstance(told, str) else " ".join(reply.arguments)


def _read(reply: Reply, read: Callable[[int], object]) -> object:
    """The first detail, read; None where it is none that this version knows."""
    try:
        return read(int(reply.arguments[0]))
    except (IndexError, ValueError):
        return None


def _code(reply: Reply) -> Code | None:
    """None for a code of a later version."""
    try:
        return Code(reply.code or 0)
    except ValueError:
        return None
