"""What each command of the wire does at the far end, and what it answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeAlias

from feedscript_drivers.wire.messages import Argument, Command
from feedscript_drivers.wire.protocol import (
    STATES,
    UNSET,
    VERSION,
    Capability,
    Code,
    Number,
    Reason,
    Times,
)

from feedscript.launcher.port import LauncherState
from feedscript_simulator.controller import Controller
from feedscript_simulator.feeder import QUEUE_PLACES, QueuedFeed
from feedscript_simulator.plant import Fields
from feedscript_simulator.refusal import Refusal

Answer: TypeAlias = tuple[Argument, ...] | Refusal
Handler: TypeAlias = Callable[[Controller, Command], Answer]

#: Commands whose OK says that no ball can leave any more.
HELD_BACK: Final = frozenset(("HOLD", "STOP", "DISARM", "OPEN"))
#: At the cable only, and in *safe*; ``HASH`` with its argument too.
STORING: Final = frozenset(("SET", "NAME", "PAIR", "UNPAIR"))

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

#: Limits of what it does not measure.
_UNMEASURED: Final = frozenset((Number.LEAST_VOLTAGE_MV, Number.MOST_TEMPERATURE_C))


def _hello(launcher: Controller, command: Command) -> Answer:
    least, most = command.numbers()
    if not least <= VERSION <= most:
        return Refusal(Code.VERSION, VERSION, VERSION)
    counter = launcher.seal.heard if launcher.seal is not None else 0
    boots = launcher.make.stored.boots
    caps = f"{int(_CAPABILITIES):03X}"
    times = (int(Times.SILENCE), int(Times.WATCHDOG), QUEUE_PLACES, int(Times.HORIZON))
    return (VERSION, boots, counter, caps, *times)


def _who(launcher: Controller, _command: Command) -> Answer:
    return launcher.make.stored.serial, launcher.make.stored.name


def _open(launcher: Controller, command: Command) -> Answer:
    session, _ = command.numbers()
    memory = launcher.machine.memory
    kept = launcher.machine.open(session)
    return int(kept), memory.highest, memory.left, launcher.events.last


def _arm(launcher: Controller, command: Command) -> Answer:
    first, second, third = command.numbers()
    return launcher.machine.arm((first, second, third)) or ()


def _code(_launcher: Controller, _command: Command) -> Answer:
    return Refusal(Code.NOT_CAPABLE)


def _disarm(launcher: Controller, _command: Command) -> Answer:
    return launcher.machine.disarm() or ()


def _fields(numbers: tuple[int, ...]) -> Fields:
    first, second, third, pan, tilt, roll = numbers
    return first, second, third, pan, tilt, roll


def _prep(launcher: Controller, command: Command) -> Answer:
    return launcher.machine.prepare(_fields(command.numbers())) or ()


def _feed(launcher: Controller, command: Command) -> Answer:
    feed_id, leave, *fields = command.numbers()
    feed = QueuedFeed(feed_id, launcher.absolute_ms(leave), _fields(tuple(fields)))
    return launcher.machine.feed(feed) or ()


def _hold(launcher: Controller, _command: Command) -> Answer:
    launcher.machine.hold(Reason.HOST_LINE)
    return ()


def _go(launcher: Controller, _command: Command) -> Answer:
    return launcher.machine.go_on() or ()


def _stop(launcher: Controller, command: Command) -> Answer:
    (category,) = command.numbers()
    stop = launcher.machine.stop if category == 1 else launcher.machine.emergency
    stop(Reason.HOST_LINE)
    return ()


def _stat(launcher: Controller, _command: Command) -> Answer:
    machine, memory = launcher.machine, launcher.machine.memory
    return (
        STATES.index(machine.state),
        int(machine.reason),
        int(machine.now_ms) % 2**32,
        memory.left,
        memory.highest,
        len(machine.feeder.queue) + (machine.feeder.opening is not None),
        machine.feeder.hopper,
        *machine.plant.measured(machine.now_ms),
        launcher.events.last,
    )


def _pose(launcher: Controller, _command: Command) -> Answer:
    return launcher.machine.plant.pose(launcher.machine.now_ms)


def _hist(launcher: Controller, command: Command) -> Answer:
    (feed_id,) = command.numbers()
    outcome = launcher.machine.memory.ask(feed_id)
    ms = int(outcome.ms) % 2**32
    return feed_id, outcome.letter.value, ms, int(outcome.reason)


def _evt(launcher: Controller, command: Command) -> Answer:
    (first,) = command.numbers()
    if not launcher.repeat_events(first):
        return Refusal(Code.NOT_KEPT, launcher.events.oldest())
    return launcher.events.oldest(), launcher.events.last


def _get(launcher: Controller, command: Command) -> Answer:
    (which,) = command.numbers()
    if which in (Number.VOLTAGE_MV, Number.TEMPERATURE_C):
        return which, -1
    if which == Number.HOMING_MS:
        homes = [home.longest_ms() for home in launcher.make.rates.homes if home is not None]
        return which, round(max(homes)) if homes else UNSET
    if which == Number.FIRMWARE:
        return which, launcher.make.firmware
    return which, launcher.make.stored.get(which)


def _safe(launcher: Controller) -> Refusal | None:
    if launcher.machine.state is not LauncherState.SAFE:
        return Refusal(Code.WRONG_STATE, STATES.index(launcher.machine.state))
    return None


def _set(launcher: Controller, command: Command) -> Answer:
    stored = launcher.make.stored
    which, value = command.numbers()
    trouble = _safe(launcher)
    unmeasured = which in _UNMEASURED and value != UNSET
    if trouble is None and (unmeasured or not Number.DRIVE_1_MOST <= which <= Number.KEY_NEEDED):
        trouble = Refusal(Code.NOT_CAPABLE)
    if trouble is None and not stored.allows(which, value):
        trouble = Refusal(Code.OUT_OF_LIMITS, which)
    if trouble is None and (which, value) == (Number.KEY_NEEDED, 1) and not stored.key:
        trouble = Refusal(Code.KEY_NEEDED)  # the port would be shut for good
    if trouble is None:
        stored.put(which, value)
    return trouble or ()


def _hash(launcher: Controller, command: Command) -> Answer:
    if not command.arguments:
        return (launcher.make.stored.profile_hash,)
    trouble = _safe(launcher)
    if trouble is None:
        launcher.make.stored.profile_hash = str(command.arguments[0]).lower()
    return trouble or ()


def _name(launcher: Controller, command: Command) -> Answer:
    trouble = _safe(launcher)
    if trouble is None:
        launcher.make.stored.name = str(command.arguments[0])
    return trouble or ()


def _pair(launcher: Controller, command: Command) -> Answer:
    trouble = _safe(launcher)
    if trouble is None:
        launcher.set_key(bytes.fromhex(str(command.arguments[0])))
    return trouble or ()


def _unpair(launcher: Controller, _command: Command) -> Answer:
    trouble = _safe(launcher)
    if trouble is None:
        launcher.set_key(None)
    return trouble or ()


def _cnts(launcher: Controller, _command: Command) -> Answer:
    counts = launcher.counts
    return counts.bad, counts.stale, counts.forged, counts.long


def _log(launcher: Controller, command: Command) -> Answer:
    (back,) = command.numbers()
    rows = launcher.make.stored.log
    if back >= len(rows):
        return Refusal(Code.NOT_KEPT, len(rows))
    return rows[-1 - back]


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
    "NAME": _name,
    "PAIR": _pair,
    "UNPAIR": _unpair,
    "CNTS": _cnts,
    "LOG": _log,
}
