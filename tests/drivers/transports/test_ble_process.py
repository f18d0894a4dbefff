"""A simulated launcher on virtual Bluetooth, and a user's commands against it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from feedscript_drivers.setting_up.keys import find_key
from serial.tools import list_ports

from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder
from tests.simulator.stand_in_process import FEEDSCRIPT, running

pytestmark = pytest.mark.real_time

GARAGE = shipped_folder() / "launchers" / "garage.toml"
PROFILE = read_profile(GARAGE).profile
assert PROFILE is not None
ON_AIR = [sys.executable, "-m", "tests.drivers.virtual_ble", str(GARAGE)]

LESSON = """feedscript 1
title "Two balls by radio (invented)"
court    { surface hard }
balls    { type 2   load 30 }
launcher { profile "garage.toml"   stands 1 m behind centre mark }
feed deep { land 3 m inside baseline, on centre line   speed 80 km/h   spin top 900 rpm }
lesson { show speed of deep   send deep after 2 s }
"""


def told(*words: str, code: int = 0) -> dict[str, Any]:
    """What a command says to machines."""
    done = subprocess.run(
        [*FEEDSCRIPT, *words, "--format", "json"], capture_output=True, text=True, check=False
    )
    assert done.returncode == code, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def test_find_check_and_run_by_radio_and_play_the_capture_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Paired by the stand-in with this user, as over a cable; nobody names a key."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    lesson, capture = tmp_path / "lesson.feed", tmp_path / "radio.capture"
    lesson.write_text(LESSON, encoding="utf-8")
    run = ("run", str(lesson), "--yes-i-am-behind-the-launcher", "--journal")
    with running(ON_AIR) as (_, lines, address):
        assert find_key(PROFILE.serial) is not None
        bus = next(line["bus"] for line in lines.seen if line["event"] == "bus")
        with monkeypatch.context() as radio:
            radio.setenv("DBUS_SYSTEM_BUS_ADDRESS", bus)
            found = told("find", "--seconds", "1")["found"]
            assert address in [each["address"] for each in found]
            looked = {each["what"]: each["fine"] for each in told("look-over")["findings"]}
            assert looked["Bluetooth service"]
            assert looked["Bluetooth adapter"]
            assert all(part["fine"] for part in told("link-check", "--on", address)["parts"])
            journal = str(tmp_path / "radio.sqlite")
            over_radio = told(*run, journal, "--on", address, "--capture", str(capture))
    left = [line["feed_id"] for line in lines.seen if line.get("event") == "left"]
    assert (over_radio["ending"], over_radio["left"], left) == ("finished", 2, [1, 2])
    journal = str(tmp_path / "again.sqlite")
    again = told(*run, journal, "--on", f"replay:{capture}")
    assert (again["ending"], again["left"], again["unknown"]) == ("finished", 2, 0)


def test_ctrl_c_in_its_terminal_ends_it_and_its_bus(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A terminal sends Ctrl-C to every process that was started from it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    process = subprocess.Popen(
        ON_AIR,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stdout is not None
    for line in process.stdout:
        if json.loads(line)["event"] == "ready":
            break
    os.killpg(process.pid, signal.SIGINT)
    said, troubles = process.communicate(timeout=20)
    assert process.returncode == 0, troubles
    assert troubles == ""
    assert json.loads(said.splitlines()[-1])["event"] == "end"


def test_without_a_service_the_radio_is_said_to_be_unusable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/nothing")
    answer = told("link-check", "--on", "ble:nobody", code=3)
    assert answer["diagnostics"][0]["slug"] == "no-bluetooth"
    assert "feedscript look-over" in answer["diagnostics"][0]["help"]
    ports = [each.device for each in list_ports.comports()]
    by_cable = any(os.access(port, os.R_OK | os.W_OK) for port in ports)
    found = told("look-over", code=0 if by_cable else 3)["findings"]
    looked = {each["what"]: each for each in found}
    assert not looked["Bluetooth service"]["fine"]
    assert looked["Bluetooth service"]["fix"] == "sudo systemctl start dbus"
    assert told("find", "--seconds", "0.2")["troubles"]
