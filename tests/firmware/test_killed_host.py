"""In real time: a feeding host process is killed, and the compiled image must look after itself."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.firmware.far_end import REAL_TIME, FarEnd
from tests.firmware.virtual_link import configure_for, garage
from tests.simulator.stand_in_process import HOST

pytestmark = pytest.mark.real_time

WATCHDOG_MS = 1000


def wait_for(far: FarEnd, what: Callable[[dict[str, Any]], bool], most_s: float) -> dict[str, Any]:
    """Look at the pins until they show something."""
    ends = time.monotonic() + most_s
    while time.monotonic() < ends:
        pins = far.get()
        if what(pins):
            return pins
        time.sleep(0.02)
    raise AssertionError(f"not seen within {most_s} s: {far.get()}")


def arm_by_hand(far: FarEnd) -> None:
    """Turn the switch off and on until the launcher, asked by the host, takes it as the act."""
    for _ in range(20):
        far.set("arm_switch", 0)
        time.sleep(0.2)
        far.set("arm_switch", 1)
        time.sleep(0.3)
        if far.get()["power"]:
            return
    raise AssertionError("the host never asked to be armed")


@pytest.fixture(
    params=["avr", *(pytest.param(one, marks=pytest.mark.long) for one in ("posix", "rp2040"))]
)
def launcher(request: Any, images: str, tmp_path: Path) -> Any:
    """On a machine that is busy otherwise the emulated RP2040 falls behind the host's clock."""
    configure_for(garage(), request.param, tmp_path / "memory")
    with FarEnd(request.param, pace=REAL_TIME, memory=tmp_path / "memory") as far:
        yield far


def test_a_killed_host_leaves_everything_off_within_the_watchdog_time(launcher: FarEnd) -> None:
    host = subprocess.Popen(
        [sys.executable, "-c", HOST, f"serial:{launcher.pty}"], stdout=subprocess.PIPE
    )
    try:
        arm_by_hand(launcher)
        wait_for(launcher, lambda pins: pins["balls"] >= 2 and min(pins["duty"]) > 0, 20)
    finally:
        host.send_signal(signal.SIGKILL)
        host.wait()
        host.stdout.close()
    off = wait_for(launcher, lambda pins: not pins["power"], 3)
    pins = launcher.get()
    balls = pins["balls"]
    moments = ("wheels_off_us", "gate_shut_us", "power_off_us", "servos_off_us")
    assert all(pins[moment] > 0 for moment in moments), pins
    silent_ms = (max(pins[moment] for moment in moments) - off["last_byte_us"]) / 1000
    assert 0 < silent_ms <= WATCHDOG_MS
    time.sleep(3.0)  # another ball was scheduled 2.5 s after the last
    assert launcher.get()["balls"] == balls
