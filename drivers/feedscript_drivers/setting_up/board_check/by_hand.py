"""Steps with a person at the board: its inputs, its outputs, and everything that stops it.

The wheels have no power and no ball is in the hopper: whatever a wrong board does, nothing flies.
"""

from __future__ import annotations

from typing import Final

import anyio

from feedscript_drivers.setting_up.board_check.host import BoardHost, Event, Wrong
from feedscript_drivers.setting_up.board_check.steps import Bench, Do, See, Step
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.protocol import Number, StopCharacter, Times

_SAFE, _WAITS, _ARMED, _HELD, _STOPPING, _STOPPED, _FAULT = range(7)
_PERSON_S: Final = 60.0
#: The wheels by their numbers, which are also those of the greatest speeds stored for them.
_WHEELS: Final = (1, 2, 3)
_STORED: Final = (*range(1, 22), *range(64, 85))
_SEEN_S: Final = 0.5  # a switch's debouncing and a heartbeat
_SOME_RPM: Final = 400
_LACKS_WHEEL: Final = "it has no such wheel: number {} is 0"
_SOME_CDEG: Final = 800
_AHEAD_MS: Final = 3000
_UNSET: Final = str(-(2**31))
_JAM, _EMPTY, _STRAY, _STEPS = 1, 2, 6, 13
#: Not at speed, or silent: which of them a wheel is that stands says how hard it was driven.
_STANDS: Final = (3, 10)
#: The first number of each axis on a stepping motor; further on its travel and its starting rate.
_STEPPERS: Final = (73, 79)
_TRAVEL, _START = 2, 3


async def _see(bench: Bench, what: See, otherwise: str) -> None:
    if not await bench.person.sees(what):
        raise Wrong(otherwise)


async def _all_off(bench: Bench, when: str) -> None:
    await _see(bench, See.ALL_OFF, f"something is still on {when}")


async def _number(host: BoardHost, number: int) -> int:
    return int((await host.must(f"GET {number}"))[1])


async def _home_s(host: BoardHost) -> float:
    """How long axes on stepping motors may look for their places; 0 where all are servos."""
    longest_s = 0.0
    for first in _STEPPERS:
        travel, start = [await _number(host, first + which) for which in (_TRAVEL, _START)]
        if travel > 0 and start > 0:
            longest_s = max(longest_s, 2 * travel / start + 2.0)
    return longest_s


async def _ask_to_arm(bench: Bench) -> None:
    """From whatever was before: the switch off, a session of its own, asked to be armed."""
    host = bench.host
    host.speaks = True
    await bench.person.do(Do.SWITCH_OFF)
    await anyio.sleep(_SEEN_S)
    await host.open()
    rpm = [min(_SOME_RPM + 100, await _number(host, wheel)) for wheel in _WHEELS]
    await host.must("ARM {} {} {}".format(*rpm))


async def _arm(bench: Bench) -> None:
    host = bench.host
    await _ask_to_arm(bench)
    home_s, since = await _home_s(host), len(host.events)
    await bench.person.do(Do.SWITCH_ON)
    if not await host.state_becomes(_ARMED, _SEEN_S + home_s):
        faults = [event.numbers for event in host.said("FAULT", since)]
        told = f", faults {faults}" if faults else ""
        raise Wrong(f"the switch turned on did not arm it; its state is {host.state}{told}")


async def _is(bench: Bench, state: int, within_s: float, after: str) -> None:
    if not await bench.host.state_becomes(state, within_s):
        raise Wrong(f"{after} its state is {bench.host.state}, not {state}")


# what starts


async def _restarts(bench: Bench) -> str:
    host = bench.host
    await host.open()
    if (await host.must(f"GET {int(Number.OWN_NUMBER)}"))[1] == _UNSET:
        await host.ask(f"SET {int(Number.OWN_NUMBER)} {1 + host.next_sequence()}")
    kept = [await host.must(f"GET {number}") for number in _STORED]
    profile, before = await host.must("HASH"), await host.must("HELLO 2 2")
    booted = await _boot(bench, Do.RESTART)
    await _all_off(bench, "after a start")
    after = await host.must("HELLO 2 2")
    if int(after[1]) <= int(before[1]):
        raise Wrong(f"start number {after[1]} after {before[1]}: it was not kept")
    again = [await host.must(f"GET {number}") for number in _STORED]
    if again != kept or await host.must("HASH") != profile:
        lost = [old[0] for old, new in zip(kept, again, strict=True) if old != new]
        raise Wrong(f"what was stored did not outlast the power: {', '.join(lost) or 'the hash'}")
    return f"everything kept; says cause {booted.numbers[1]} (0 power, 2 brown-out)"


async def _boot(bench: Bench, act: Do) -> Event:
    host, since = bench.host, len(bench.host.events)
    await bench.person.do(act)
    if not await host.until(lambda: bool(host.said("BOOT", since)), 5.0):
        raise Wrong("it did not say that it had started")
    if (await host.must("STAT"))[0] != str(_SAFE):
        raise Wrong("it did not start safe")
    return host.said("BOOT", since)[-1]


async def _reset(bench: Bench) -> str:
    await _arm(bench)
    booted = await _boot(bench, Do.RESET)
    await _all_off(bench, "after a reset with the arming switch left on")
    if booted.numbers[1] != 1:
        raise Wrong(f"a reset is told as cause {booted.numbers[1]}, not 1")
    return "off, disarmed, told as a reset"


# who arms


async def _switch_left_on(bench: Bench) -> str:
    host = bench.host
    await bench.person.do(Do.SWITCH_OFF)
    await anyio.sleep(_SEEN_S)
    await host.open()
    await bench.person.do(Do.SWITCH_ON)
    await anyio.sleep(_SEEN_S)
    await host.must("ARM 0 0 0")
    await anyio.sleep(1.0)
    if int((await host.must("STAT"))[0]) != _WAITS:
        raise Wrong(f"with the switch left on its state is {host.state}, not {_WAITS}")
    await _all_off(bench, "while it waits for the person")
    await bench.person.do(Do.SWITCH_OFF)
    await anyio.sleep(_SEEN_S)
    await bench.person.do(Do.SWITCH_ON)
    home_s = await _home_s(host)
    await _is(bench, _ARMED, _SEEN_S + home_s, "after the switch was turned off and on")
    await _see(bench, See.POWERED, "armed, and the contactor's output or the lamp is off")
    return "arms only when turned on"


async def _switch_off(bench: Bench) -> str:
    await _arm(bench)
    await bench.person.do(Do.SWITCH_OFF)
    await _is(bench, _SAFE, _SEEN_S + Times.RUN_DOWN / 1000, "after the switch was turned off")
    await _all_off(bench, "after the switch was turned off")
    return "off"


# what stops


async def _silence(bench: Bench) -> str:
    host = bench.host
    await _arm(bench)
    host.speaks = False
    began = anyio.current_time()
    while host.state == _ARMED and anyio.current_time() - began < 2 * Times.WATCHDOG / 1000:
        await host.state_becomes(_STOPPING, 0.02)
    took_s = anyio.current_time() - began
    stopped = await host.state_becomes(_SAFE, 1.0)
    host.speaks = True
    if took_s > Times.WATCHDOG / 1000 or not stopped:
        raise Wrong(f"after {took_s:.2f} s of silence its state is {host.state}")
    await _all_off(bench, "after the host fell silent")
    return f"stops after {took_s:.2f} s"


async def _stop_byte(bench: Bench, byte: StopCharacter, state: int, within_s: float) -> None:
    """Inside a line that never ends: the line reader must not be needed."""
    host = bench.host
    await _arm(bench)
    await host.send(f"{host.next_sequence()} FEED 1 9".encode() + bytes([byte]))
    reached = await host.until(lambda: host.state == state, within_s + 0.1)
    await host.send(b"\n")
    if not reached:
        raise Wrong(f"after stop character {byte:#04x} its state is {host.state}, not {state}")


async def _run_down(bench: Bench) -> str:
    await _stop_byte(bench, StopCharacter.STOP, _SAFE, Times.RUN_DOWN / 1000 + 0.2)
    await _all_off(bench, "after a stop character")
    return "everything off"


async def _hold(bench: Bench) -> str:
    await _stop_byte(bench, StopCharacter.HOLD, _HELD, 0.2)
    await _see(bench, See.POWERED, "held, and the contactor's output is off")
    await bench.host.must("STOP 1")
    await _is(bench, _SAFE, 1.0, "after STOP 1")
    return "held, then off"


async def _latched(bench: Bench, when: str) -> None:
    await _all_off(bench, when)
    reply = await bench.host.ask("ARM 0 0 0")
    if reply != "NO 15":
        raise Wrong(f"{when} ARM was answered {reply or 'nothing'!r}, not NO 15")


async def _emergency_byte(bench: Bench) -> str:
    await _stop_byte(bench, StopCharacter.EMERGENCY, _STOPPED, 0.2)
    await _latched(bench, "after the emergency character")
    await bench.person.do(Do.SWITCH_OFF)
    await _is(bench, _SAFE, _SEEN_S, "reset at the switch,")
    return "off and latched until the switch is turned off"


async def _emergency(bench: Bench) -> str:
    await _arm(bench)
    await bench.person.do(Do.PRESS)
    await _is(bench, _STOPPED, _SEEN_S, "with the emergency stop pressed")
    await _latched(bench, "with the emergency stop pressed")
    await bench.person.do(Do.SWITCH_OFF)
    await anyio.sleep(_SEEN_S)
    if int((await bench.host.must("STAT"))[0]) != _STOPPED:
        raise Wrong("it was reset while the emergency stop was still pressed")
    await bench.person.do(Do.RELEASE)
    await bench.person.do(Do.SWITCH_ON)
    await _latched(bench, "released, and the switch turned on,")
    await bench.person.do(Do.SWITCH_OFF)
    await _is(bench, _SAFE, _SEEN_S, "released, and the switch turned off,")
    return "off and latched until it is released and the switch is turned off"


# what turns, moves and opens


async def _middle(host: BoardHost, least: int, most: int) -> int:
    return (await _number(host, least) + await _number(host, most)) // 2


async def _pose(host: BoardHost) -> tuple[int, int]:
    return await _middle(host, 4, 5), await _middle(host, 6, 7)


async def _lacks_wheel(bench: Bench, wheel: int) -> bool:
    return await _number(bench.host, wheel) == 0


async def _wheel(bench: Bench, wheel: int, watch: Do, only: See) -> str:
    host = bench.host
    if wheel > 1 and await _lacks_wheel(bench, wheel):
        return _LACKS_WHEEL.format(wheel)
    await _arm(bench)
    pan, tilt = await _pose(host)
    await bench.person.do(watch)
    since = len(host.events)
    rpm = min(_SOME_RPM, await _number(host, wheel))
    speeds = " ".join(str(rpm if one == wheel else 0) for one in _WHEELS)
    await host.must(f"PREP {speeds} {pan} {tilt} 0")
    came = await host.until(lambda: bool(host.said("FAULT", since)), Times.DRIVE_REACH / 1000 + 2)
    faults = [event.numbers for event in host.said("FAULT", since)]
    if not came or faults[0] not in [(fault, wheel) for fault in _STANDS]:
        raise Wrong(f"a wheel that cannot turn was told as {faults or 'nothing'}")
    await _all_off(bench, "after a wheel that did not turn")
    await _see(bench, only, f"asked for wheel {wheel}, another output answered, or none")
    return f"driven by its own output; its stillness is fault {faults[0][0]}"


async def _wheel_1(bench: Bench) -> str:
    return await _wheel(bench, 1, Do.WATCH_WHEEL_1, See.ONLY_WHEEL_1)


async def _wheel_2(bench: Bench) -> str:
    return await _wheel(bench, 2, Do.WATCH_WHEEL_2, See.ONLY_WHEEL_2)


async def _wheel_3(bench: Bench) -> str:
    return await _wheel(bench, 3, Do.WATCH_WHEEL_3, See.ONLY_WHEEL_3)


async def _turned(bench: Bench, wheel: int, turn: Do) -> str:
    host = bench.host
    if wheel > 1 and await _lacks_wheel(bench, wheel):
        return _LACKS_WHEEL.format(wheel)
    await host.open()  # makes it safe: no hand at a wheel that anything may drive
    await bench.person.do(turn)
    await anyio.sleep(1.0)
    speeds = [int(word) for word in (await host.must("STAT"))[7:10]]
    await _see(bench, See.STOPPED_TURNING, "a wheel turns that nobody turns")
    if [rpm > 0 for rpm in speeds] != [one == wheel for one in _WHEELS]:
        raise Wrong(f"with wheel {wheel} turned by hand it measured {speeds} turns a minute")
    return f"{speeds[wheel - 1]} turns a minute, the others 0"


async def _turned_1(bench: Bench) -> str:
    return await _turned(bench, 1, Do.TURN_1)


async def _turned_2(bench: Bench) -> str:
    return await _turned(bench, 2, Do.TURN_2)


async def _turned_3(bench: Bench) -> str:
    return await _turned(bench, 3, Do.TURN_3)


async def _axis(bench: Bench, by: tuple[int, int], watch: Do, only: See) -> str:
    host = bench.host
    least = 4 if by[0] else 6
    if await _number(host, least) == await _number(host, least + 1):
        return f"it has no such axis: numbers {least} and {least + 1} leave it no way"
    await _arm(bench)
    pan, tilt = await _pose(host)
    await _move(host, pan, tilt)
    await bench.person.do(watch)
    await _move(host, pan + by[0], tilt + by[1])
    await _see(bench, only, "another axis moved, or none")
    return "moved alone"


async def _move(host: BoardHost, pan: int, tilt: int) -> None:
    await host.must(f"PREP 0 0 0 {pan} {tilt} 0")
    await anyio.sleep(2.0 + await _home_s(host))


async def _pan(bench: Bench) -> str:
    return await _axis(bench, (_SOME_CDEG, 0), Do.WATCH_PAN, See.ONLY_PAN)


async def _tilt(bench: Bench) -> str:
    return await _axis(bench, (0, _SOME_CDEG), Do.WATCH_TILT, See.ONLY_TILT)


async def _home(bench: Bench, axis: int, change: Do, leave: Do) -> str:
    """An axis on a stepping motor: does it stand where it says, and is its home sensor its own?"""
    host = bench.host
    if await _number(host, _STEPPERS[axis] + _TRAVEL) <= 0:
        return "led by a servo, which has none"
    await _arm(bench)
    aim = list(await _pose(host))
    aim[axis] += _SOME_CDEG
    await _move(host, aim[0], aim[1])
    name, angle = ("pan", "tilt")[axis], aim[axis] / 100
    if not await bench.person.measures(
        f"By a protractor: does {name} stand at {angle:.1f} degrees, within one?"
    ):
        raise Wrong(f"{name} does not stand where it was sent: {angle:.1f} degrees")
    since = len(host.events)
    await bench.person.do(change)
    await host.until(lambda: bool(host.said("FAULT", since)), 2.0)
    faults = [event.numbers for event in host.said("FAULT", since)]
    await bench.person.do(leave)
    if faults != [(_STEPS, axis + 1)]:
        raise Wrong(f"its home sensor, touched, was told as {faults or 'nothing'}")
    await _all_off(bench, "after a home sensor that showed what it cannot")
    return f"stands at {angle:.1f} degrees; its sensor, touched, is fault {_STEPS}"


async def _pan_home(bench: Bench) -> str:
    return await _home(bench, 0, Do.CHANGE_PAN_HOME, Do.LEAVE_PAN_HOME)


async def _tilt_home(bench: Bench) -> str:
    return await _home(bench, 1, Do.CHANGE_TILT_HOME, Do.LEAVE_TILT_HOME)


async def _gate(bench: Bench, ball: Do, fault: int) -> str:
    """A feed with still wheels and no ball: the gate opens at its moment, and nothing passes."""
    host = bench.host
    await _arm(bench)
    pan, tilt = await _pose(host)
    lead_ms = await _number(host, 13)
    await _move(host, pan, tilt)
    await anyio.sleep(1.0)
    await bench.person.do(ball)
    await bench.person.do(Do.WATCH_GATE)
    since, leave_ms = len(host.events), (host.clock_ms + _AHEAD_MS) % 2**32
    await host.must(f"FEED 1 {leave_ms} 0 0 0 {pan} {tilt} 0")
    await host.until(lambda: bool(host.said("FAULT", since)), _AHEAD_MS / 1000 + 3)
    faults = [event.numbers[0] for event in host.said("FAULT", since)]
    if faults != [fault]:
        missed = [event.numbers for event in host.said("MISS", since)]
        raise Wrong(f"fault {faults or 'none'}, not {fault}; not sent: {missed or 'none'}")
    await _all_off(bench, "after a feed from which no ball came")
    await _see(bench, See.GATE_ONCE, "the gate did not open once and shut")
    told_ms = host.said("FAULT", since)[0].at_ms - (leave_ms - lead_ms)
    return f"opens once; no ball is fault {fault} after {told_ms} ms"


async def _empty(bench: Bench) -> str:
    return await _gate(bench, Do.NO_BALL, _EMPTY)


async def _jam(bench: Bench) -> str:
    return await _gate(bench, Do.BALL, _JAM)


async def _stray(bench: Bench) -> str:
    host = bench.host
    await _arm(bench)
    since = len(host.events)
    await bench.person.do(Do.STICK)
    if not await host.until(lambda: bool(host.said("FAULT", since)), 1.0):
        raise Wrong("something passed the ball sensor, and it said nothing")
    faults = [event.numbers[0] for event in host.said("FAULT", since)]
    if faults != [_STRAY]:
        raise Wrong(f"something passed the ball sensor, told as fault {faults}")
    await _all_off(bench, "after a ball that nobody asked for")
    return f"fault {_STRAY}, everything off"


async def _line_of_another(bench: Bench) -> str:
    """Armed, the same heartbeat again and again: what it echoes is old, and no sign of life."""
    host = bench.host
    await _arm(bench)
    host.speaks = False
    old = plain_line(f"T 7 {host.clock_ms}")
    began = anyio.current_time()
    while host.state == _ARMED and anyio.current_time() - began < 2 * Times.WATCHDOG / 1000:
        await host.send(old)
        await anyio.sleep(0.1)
    took_s = anyio.current_time() - began
    host.speaks = True
    if took_s > Times.WATCHDOG / 1000:
        raise Wrong(f"old heartbeats kept it armed for {took_s:.2f} s")
    return f"stops after {took_s:.2f} s"


BY_HAND: Final = (
    Step(
        "power off and on", _restarts, "board_store_commit(); every pin low before it is an output"
    ),
    Step("a switch left on", _switch_left_on, "board_arm_switch(), board_power(), board_lamp()"),
    Step("the switch turned off", _switch_off, "board_arm_switch()"),
    Step("silence", _silence, "fence_tick() every millisecond, from an interrupt"),
    Step("old heartbeats", _line_of_another, "fence_tick() and board_now_ms() are of one clock"),
    Step("stop", _run_down, "fence_byte() for every byte, in the receive interrupt"),
    Step("hold", _hold, "fence_byte() for every byte, in the receive interrupt"),
    Step("emergency character", _emergency_byte, "fence_byte() for every byte"),
    Step("emergency stop", _emergency, "board_stop_loop_open(): an open wire counts as pressed"),
    Step("a reset", _reset, "board_start_cause(); every pin low before it is an output"),
    Step("wheel 1", _wheel_1, "board_wheel(0, …): its pin; 0 must truly be off"),
    Step("wheel 2", _wheel_2, "board_wheel(1, …): its pin; 0 must truly be off"),
    Step("wheel 3", _wheel_3, "board_wheel(2, …): its pin; 0 must truly be off"),
    Step("wheel 1's sensor", _turned_1, "board_tach(0, …) and its interrupt"),
    Step("wheel 2's sensor", _turned_2, "board_tach(1, …) and its interrupt"),
    Step("wheel 3's sensor", _turned_3, "board_tach(2, …) and its interrupt"),
    Step("pan", _pan, "board_servo(0, …), or board_step(0, …): its pin"),
    Step("tilt", _tilt, "board_servo(1, …), or board_step(1, …): its pin"),
    Step(
        "pan's home", _pan_home, "board_axis_near(0), board_step(0, …): their pins, their way round"
    ),
    Step(
        "tilt's home",
        _tilt_home,
        "board_axis_near(1), board_step(1, …): their pins, their way round",
    ),
    Step(
        "the gate, no ball there", _empty, "board_gate(), board_ball_ready(), board_ball_blocked()"
    ),
    Step("the gate, a ball there", _jam, "board_gate(), board_ball_ready()"),
    Step("the ball sensor", _stray, "fence_ball() at each edge that leaves the sensor blocked"),
)
