"""What each command of the wire does at the far end, and what it answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final, TypeAlias

from feedscript_drivers.wire.messages import Argument, Command
from feedscript_drivers.wire.protocol import (
    STATES,
    VERSION,
    Capability,
    Code,
    Number,
    Reason,
    Times,
)

from feedscript.launcher.port import LauncherState
from feedscript_simulator.feeder import QUEUE_PLACES, QueuedFeed
from feedscript_simulator.plant import Fields
from feedscript_simulator.refusal import Refusal

if TYPE_CHECKING:
    from feedscript_simulator.far_end import FarEnd

Answer: TypeAlias = tuple[Argument, ...] | Refusal
Handler: TypeAlias = Callable[["FarEnd", Command], Answer]

#: Commands whose OK says that no ball can leave any more.
HELD_BACK: Final = frozenset(("HOLD", "STOP", "DISARM", "OPEN"))
#: At the cable only, and in *safe*; ``HASH`` with its argument too.
STORING: Final = frozenset(("SET", "PAIR", "UNPAIR"))

_CAPABILITIES: Final = (
    Capability.ARMING_SWITCH
    | Capability.HOPPER_COUNT
    | Capability.BALL_SENSOR
    | Capability.ROLL
    | Capability.THIRD_DRIVE
    | Capability.EMERGENCY_INPUT
    | Capability.DRIVE_FEEDBACK
    | Capability.KEYED
)


def _hello(end: FarEnd, command: Command) -> Answer:
    least, most = command.numbers()
    if not least <= VERSION <= most:
        return Refusal(Code.VERSION, VERSION, VERSION)
    counter = end.seal.heard if end.seal is not None else 0
    boots = end.make.stored.boots
    caps = f"{int(_CAPABILITIES):03X}"
    times = (int(Times.SILENCE), int(Times.WATCHDOG), QUEUE_PLACES, int(Times.HORIZON))
    return (VERSION, boots, counter, caps, *times)


def _who(end: FarEnd, _command: Command) -> Answer:
    return end.make.stored.serial, end.make.stored.name


def _open(end: FarEnd, command: Command) -> Answer:
    session, _ = command.numbers()
    memory = end.machine.memory
    kept = end.machine.open(session)
    return int(kept), memory.highest, memory.left, end.events.last


def _arm(end: FarEnd, command: Command) -> Answer:
    first, second, third = command.numbers()
    return end.machine.arm((first, second, third)) or ()


def _code(_end: FarEnd, _command: Command) -> Answer:
    return Refusal(Code.NOT_CAPABLE)


def _disarm(end: FarEnd, _command: Command) -> Answer:
    return end.machine.disarm() or ()


def _fields(numbers: tuple[int, ...]) -> Fields:
    first, second, third, pan, tilt, roll = numbers
    return first, second, third, pan, tilt, roll


def _prep(end: FarEnd, command: Command) -> Answer:
    return end.machine.prepare(_fields(command.numbers())) or ()


def _feed(end: FarEnd, command: Command) -> Answer:
    feed_id, leave, *fields = command.numbers()
    feed = QueuedFeed(feed_id, end.absolute_ms(leave), _fields(tuple(fields)))
    return end.machine.feed(feed) or ()


def _hold(end: FarEnd, _command: Command) -> Answer:
    end.machine.hold(Reason.HOST_LINE)
    return ()


def _go(end: FarEnd, _command: Command) -> Answer:
    return end.machine.go_on() or ()


def _stop(end: FarEnd, command: Command) -> Answer:
    (category,) = command.numbers()
    stop = end.machine.stop if category == 1 else end.machine.emergency
    stop(Reason.HOST_LINE)
    return ()


def _stat(end: FarEnd, _command: Command) -> Answer:
    machine, memory = end.machine, end.machine.memory
    return (
        STATES.index(machine.state),
        int(machine.reason),
        int(machine.now_ms) % 2**32,
        memory.left,
        memory.highest,
        len(machine.feeder.queue) + (machine.feeder.opening is not None),
        machine.feeder.hopper,
        *machine.plant.measured(machine.now_ms),
        end.events.last,
    )


def _pose(end: FarEnd, _command: Command) -> Answer:
    return end.machine.plant.pose(end.machine.now_ms)


def _hist(end: FarEnd, command: Command) -> Answer:
    (feed_id,) = command.numbers()
    outcome = end.machine.memory.ask(feed_id)
    ms = int(outcome.ms) % 2**32
    return feed_id, outcome.letter.value, ms, int(outcome.reason)


def _evt(end: FarEnd, command: Command) -> Answer:
    (first,) = command.numbers()
    if not end.repeat_events(first):
        return Refusal(Code.NOT_KEPT, end.events.oldest())
    return end.events.oldest(), end.events.last


def _get(end: FarEnd, command: Command) -> Answer:
    (which,) = command.numbers()
    if which in (Number.VOLTAGE_MV, Number.TEMPERATURE_C):
        return which, -1
    return which, end.make.stored.get(which)


def _safe(end: FarEnd) -> Refusal | None:
    if end.machine.state is not LauncherState.SAFE:
        return Refusal(Code.WRONG_STATE, STATES.index(end.machine.state))
    return None


def _set(end: FarEnd, command: Command) -> Answer:
    which, value = command.numbers()
    trouble = _safe(end)
    if trouble is None and not Number.DRIVE_1_MOST <= which <= Number.KEY_NEEDED:
        trouble = Refusal(Code.NOT_CAPABLE)
    if trouble is None and not end.make.stored.allows(which, value):
        trouble = Refusal(Code.OUT_OF_LIMITS, which)
    if trouble is None and (which, value) == (Number.KEY_NEEDED, 1) and not end.make.stored.key:
        trouble = Refusal(Code.KEY_NEEDED)  # the port would be shut for good
    if trouble is None:
        end.make.stored.put(which, value)
    return trouble or ()


def _hash(end: FarEnd, command: Command) -> Answer:
    if not command.arguments:
        return (end.make.stored.profile_hash,)
    trouble = _safe(end)
    if trouble is None:
        end.make.stored.profile_hash = str(command.arguments[0]).lower()
    return trouble or ()


def _pair(end: FarEnd, command: Command) -> Answer:
    trouble = _safe(end)
    if trouble is None:
        end.set_key(bytes.fromhex(str(command.arguments[0])))
    return trouble or ()


def _unpair(end: FarEnd, _command: Command) -> Answer:
    trouble = _safe(end)
    if trouble is None:
        end.set_key(None)
    return trouble or ()


def _cnts(end: FarEnd, _command: Command) -> Answer:
    counts = end.counts
    return counts.bad, counts.stale, counts.forged, counts.long


HANDLERS: Final[dict[str, Handler]] = {
    "HELLO": _hello,
    "WHO": _who,
    "OPEN": _open,
    "ARM": _arm,
    "CODE": _code,
    "DISARM": _disarm,
    "PREP": _prep,
    "FEED": _feed,
    "HOLD": _hold,
    "GO": _go,
    "STOP": _stop,
    "STAT": _stat,
    "POSE": _pose,
    "HIST": _hist,
    "EVT": _evt,
    "GET": _get,
    "SET": _set,
    "HASH": _hash,
    "PAIR": _pair,
    "UNPAIR": _unpair,
    "CNTS": _cnts,
}
