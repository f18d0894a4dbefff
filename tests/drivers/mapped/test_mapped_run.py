"""``feedscript run`` on mapped devices: two processes, a pty between them, slow answers."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec
import pytest
from feedscript_drivers.mapped.description.read import read_mapping
from feedscript_drivers.mapped.guarantees import lost

from feedscript.journal.store import open_journal
from feedscript.plan.model import Plan
from feedscript.shipped import shipped_folder
from tests.simulator.stand_in_process import FEEDSCRIPT

pytestmark = pytest.mark.real_time

PROGRAM = """feedscript 1
title "Two kinds of ball, invented"
court { surface hard }
balls { stage yellow  load 40 }
launcher { profile "device.toml"  stands 1 m behind centre mark }
feed drive { land 2 m inside baseline, on centre line  speed 75 km/h  spin top 600 rpm }
feed wide { land 3 m inside baseline, 2 m to ad of centre line  speed 70 km/h  spin top 900 rpm }
lesson {
  show speed of drive
  send drive after 1.9 s
  send wide after 3 s
}
"""


@contextmanager
def device(name: str, answer_s: float) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Its address, and the process, which tells every ball."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.drivers.mapped.mapped_on_pty", name, str(answer_s)],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stdout is not None
        port = json.loads(process.stdout.readline())["port"]
        yield f"mapped:{name}@serial:{port}", process
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize(
    "name",
    ["chatty-lines", pytest.param("byte-frames", marks=pytest.mark.long)],
)
def test_every_ball_leaves_at_its_own_setting(name: str, tmp_path: Path) -> None:
    program, profile = tmp_path / "two.feed", tmp_path / "device.toml"
    garage = (shipped_folder() / "launchers" / "garage.toml").read_text("utf-8")
    lacks = lost(read_mapping(shipped_folder() / "launchers" / "mapped" / f"{name}.toml"))
    profile.write_text(garage.replace("[guard]", f"[guard]\nlacks = {json.dumps(lacks)}"), "utf-8")
    program.write_text(PROGRAM, encoding="utf-8")
    journal = tmp_path / "journal.sqlite"
    with device(name, 0.3) as (address, process):
        run = [*FEEDSCRIPT, "run", str(program), "--on", address, "--journal", str(journal)]
        run += ["--yes-i-am-behind-the-launcher", "--format", "json"]
        ended = subprocess.run(run, capture_output=True, text=True, timeout=60, check=False)
        process.terminate()
        assert process.stdout is not None
        truth = [json.loads(line) for line in process.stdout]
    assert ended.returncode == 0, ended.stdout + ended.stderr
    assert len(truth) == 3
    for gone, (drives, aim_deg) in zip(truth, meant(journal), strict=True):
        assert gone["drives"] == pytest.approx(drives, abs=0.6)  # the device takes whole rpm
        assert gone["aim_deg"] == pytest.approx(aim_deg, abs=0.06)


def test_a_device_that_throws_by_a_valve_is_told_each_opening(tmp_path: Path) -> None:
    """Milliseconds as the profile's table has them, where another device is told turns a minute."""
    shipped = shipped_folder() / "launchers"
    mapping, profile, program = (
        tmp_path / name for name in ("valve.toml", "device.toml", "two.feed")
    )
    lines = (shipped / "mapped" / "chatty-lines.toml").read_text("utf-8")
    one_drive = lines.replace("{drive_1} {drive_2}", "{drive_1} {drive_1}")
    before, _, after = one_drive.partition("[quantities.drive_2]\n")
    mapping.write_text(before + after[after.index("[") :], "utf-8")
    lacks = json.dumps(lost(read_mapping(mapping)))
    text = (shipped / "timed-valve.toml").read_text("utf-8")
    profile.write_text(text.replace("[guard]", f"[guard]\nlacks = {lacks}"), "utf-8")
    drive, wide = "speed 75 km/h  spin top 600 rpm", "speed 70 km/h  spin top 900 rpm"
    plain = PROGRAM.replace(drive, "speed 75 km/h").replace(wide, "apex 3.5 m")
    program.write_text(plain.replace("after 1.9 s", "after 4 s").replace("3 s", "4 s"), "utf-8")
    journal = tmp_path / "journal.sqlite"
    with device("chatty-lines", 0.1) as (address, process):
        at = address.replace("chatty-lines", str(mapping))
        run = [*FEEDSCRIPT, "run", str(program), "--on", at, "--journal", str(journal)]
        run += ["--yes-i-am-behind-the-launcher", "--format", "json"]
        ended = subprocess.run(run, capture_output=True, text=True, timeout=60, check=False)
        process.terminate()
        assert process.stdout is not None
        truth = [json.loads(line) for line in process.stdout]
    assert ended.returncode == 0, ended.stdout + ended.stderr
    settings = meant(journal)
    assert [gone["drives"] for gone in truth] == [[drives[0]] * 2 for drives, _ in settings]
    by_table_ms = 80 + (75 / 3.6 - 20.8) * 25 / 3.2
    assert [round(by_table_ms)] * 2 == [drives[0] for drives, _ in settings[:2]]
    assert 30 <= settings[2][0][0] < round(by_table_ms)


def meant(file: Path) -> list[tuple[tuple[float, ...], tuple[float, float]]]:
    """The settings of the balls that left, as the journal has them."""
    journal = open_journal(file)
    (session,) = journal.rows("SELECT plan FROM session")
    balls = journal.rows("SELECT feed_index FROM ball WHERE outcome = 'left' ORDER BY feed_id")
    journal.close()
    plan = msgspec.json.decode(session["plan"], type=Plan)
    settings = [plan.feeds[ball["feed_index"]].setting for ball in balls]
    return [(each.drives, (each.pan_deg, each.tilt_deg)) for each in settings]
