"""Stops, read from the pins: nothing here believes what the launcher says of itself."""

from __future__ import annotations

from pathlib import Path

import pytest
from feedscript_drivers.wire.protocol import StopCharacter

from tests.firmware.far_end import CHIPS, IMAGES, FarEnd
from tests.firmware.plain_host import PlainHost

WATCHDOG_US = 1_000_000
RUN_DOWN_US = 300_000
EMERGENCY_US = 10_000

#: A byte takes 87 us on the wire, a look at the pins 50 us.
LOOK_US = 200


def turning(host: PlainHost) -> None:
    """Wheels at speed, a ball scheduled, servos held."""
    assert host.feed(1, 6000) == "OK"
    host.run(2500)
    pins = host.far.get()
    assert pins["power"]
    assert min(pins["duty"]) > 0
    assert min(pins["servo_us"]) > 0


def all_off_us(pins: dict[str, int]) -> int:
    """The moment since which everything has been off; fails if anything is on."""
    moments = [
        pins["wheels_off_us"], pins["gate_shut_us"], pins["power_off_us"], pins["servos_off_us"],
    ]  # fmt: skip
    assert all(moments), pins
    return max(moments)


def test_silence_shuts_everything_off_within_the_watchdog_time(armed: PlainHost) -> None:
    turning(armed)
    armed.beats = False
    heard_us = armed.far.get()["now_us"]
    armed.run(1500)
    off_us = all_off_us(armed.far.get())
    assert off_us - heard_us <= WATCHDOG_US
    armed.run(6000)
    assert armed.far.leaves() == []
    assert armed.words("MISS") == [["1", "3"]]


def test_old_echoes_are_silence(armed: PlainHost) -> None:
    """Heartbeats that arrive but echo nothing new: the host does not hear the launcher."""
    turning(armed)
    heard_us = armed.far.get()["now_us"]
    armed.clock -= 1  # from here on the clock as heard stands still
    frozen = armed.clock
    for _ in range(15):
        armed.run(100)
        armed.clock = frozen
    assert all_off_us(armed.far.get()) - heard_us <= WATCHDOG_US


def test_a_cut_cable_is_silence(armed: PlainHost) -> None:
    turning(armed)
    armed.far.set("cut", 1)
    cut_us = armed.far.get()["now_us"]
    armed.run(1500)
    assert all_off_us(armed.far.get()) - cut_us <= WATCHDOG_US


def test_the_emergency_input_acts_within_ten_milliseconds(armed: PlainHost) -> None:
    turning(armed)
    pressed_us = armed.far.get()["now_us"]
    armed.far.set("loop_open", 1)
    armed.far.run(20)
    assert all_off_us(armed.far.get()) - pressed_us <= EMERGENCY_US
    armed.run(100)
    assert armed.state() == 5
    # latched: releasing it is not enough, neither is any command
    armed.far.set("loop_open", 0)
    armed.run(300)
    for text in ("ARM 3000 3000 0", "DISARM"):
        assert armed.command(text) == "NO 15"
    assert armed.must("OPEN 77 999", wait=600)
    assert armed.state() == 5
    armed.far.set("arm_switch", 0)
    armed.run(100)
    assert armed.state() == 0
    assert not armed.far.get()["power"]
    armed.far.set("arm_switch", 1)
    armed.run(300)
    assert armed.state() == 0


@pytest.mark.parametrize(
    ("byte", "state", "within_us"),
    [(StopCharacter.EMERGENCY, 5, EMERGENCY_US), (StopCharacter.STOP, 0, RUN_DOWN_US)],
    ids=["emergency", "stop"],
)
def test_a_stop_character_acts_inside_a_half_sent_line(
    armed: PlainHost, byte: int, state: int, within_us: int
) -> None:
    turning(armed)
    now_us = armed.far.get()["now_us"]
    armed.write(b"77 FEED 2 9000" + bytes([byte]))
    armed.advance(400)
    assert all_off_us(armed.far.get()) - now_us - 15 * 87 - LOOK_US <= within_us
    armed.write(b"\n")
    armed.run(50)
    assert armed.state() == state


def test_hold_shuts_the_gate_and_keeps_the_wheels(armed: PlainHost) -> None:
    turning(armed)
    armed.write(bytes([StopCharacter.HOLD]))
    armed.run(6000)
    pins = armed.far.get()
    assert pins["gate_openings"] == 0
    assert min(pins["duty"]) > 0
    assert armed.words("MISS") == [["1", "2"]]
    armed.run(30_000)
    assert armed.words("STATE")[-2:] == [["4", "6"], ["0", "14"]]
    assert all_off_us(armed.far.get())


def test_stop_runs_down_within_its_time(armed: PlainHost) -> None:
    turning(armed)
    now_us = armed.far.get()["now_us"]
    armed.must("STOP 1")
    armed.run(400)
    assert all_off_us(armed.far.get()) - now_us <= RUN_DOWN_US + 10_000
    assert armed.words("STATE")[-2:] == [["4", "1"], ["0", "14"]]


def test_the_switch_off_is_a_stop(armed: PlainHost) -> None:
    turning(armed)
    now_us = armed.far.get()["now_us"]
    armed.far.set("arm_switch", 0)
    armed.run(500)
    assert all_off_us(armed.far.get()) - now_us <= RUN_DOWN_US + 30_000
    assert armed.words("STATE")[-2:] == [["4", "4"], ["0", "14"]]


def test_a_stop_while_the_ball_falls_is_answered_when_it_is_gone(armed: PlainHost) -> None:
    """Gate shut at once; OK only after the ball that had passed it went by the sensor."""
    armed.feed(1, 5000)
    while armed.far.get()["gate_openings"] == 0:
        armed.run(10, step=10)
    armed.run(95, step=95)  # the ball has left the gate, half its way is before it
    sequence = armed.sequence + 1
    armed.sequence = sequence
    reply = armed.command("STOP 1", sequence=sequence, wait=400)
    assert reply == "OK"
    armed.run(50)
    assert armed.words("LEFT") == [["1"]]
    (ball,) = armed.far.leaves()
    assert armed.far.get()["gate_shut_us"] <= ball["at_s"] * 1e6


@pytest.mark.parametrize("how", ["reset", "brown-out"])
def test_every_start_is_disarmed(armed: PlainHost, how: str) -> None:
    """An RP2040 has one flag for power and brown-out, and says power of both."""
    turning(armed)
    armed.far.tell(how)
    armed.far.run(5)
    all_off_us(armed.far.get())
    armed.run(8000)
    assert armed.far.leaves() == []
    assert armed.state() == 0
    cause = {"reset": "1", "brown-out": "0" if armed.far.image == "rp2040" else "2"}[how]
    assert armed.words("BOOT")[-1][1] == cause
    boots = [int(args[0]) for args in armed.words("BOOT")]
    assert boots == sorted(set(boots))


@pytest.mark.parametrize("image", CHIPS)
def test_a_hung_main_loop_is_restarted_disarmed(image: str, memories: dict[str, Path]) -> None:
    """Only the interrupts run any more: the hardware watchdog resets the chip."""
    with FarEnd(image, memory=memories[image]) as far, PlainHost(far) as host:
        host.open()
        host.arm()
        turning(host)
        host.beats = False
        hung_us = far.get()["now_us"]
        far.tell("hang")
        host.advance(300)
        assert all_off_us(far.get()) - hung_us <= 150_000
        host.beats = True
        host.run(500)
        assert host.words("BOOT")[-1][1] == "3"
        assert host.state() == 0


@pytest.mark.parametrize("image", CHIPS)
def test_a_dead_tick_is_restarted_disarmed(image: str, memories: dict[str, Path]) -> None:
    """The main loop is as busy as ever, but the fence no longer gets its turn."""
    with FarEnd(image, memory=memories[image]) as far, PlainHost(far) as host:
        host.open()
        host.arm()
        turning(host)
        lost_us = far.get()["now_us"]
        far.tell("lose-tick")
        host.run(300)
        assert all_off_us(far.get()) - lost_us <= 150_000
        host.run(500)
        assert host.words("BOOT")[-1][1] == "3"
        assert host.state() == 0


@pytest.mark.parametrize("image", IMAGES)
def test_blank_memory_never_arms(image: str, images: str) -> None:
    with FarEnd(image) as far, PlainHost(far) as host:
        host.open()
        assert host.command("ARM 1 1 0") == "NO 21 1"


@pytest.mark.parametrize("image", CHIPS)
def test_a_switch_left_on_does_not_arm_after_a_start(image: str, memories: dict[str, Path]) -> None:
    with FarEnd(image, memory=memories[image]) as far:
        far.set("arm_switch", 1)
        with PlainHost(far) as host:
            host.open()
            host.must("ARM 3000 3000 0")
            host.run(2000)
            assert host.state() == 1
            assert not far.get()["power"]
