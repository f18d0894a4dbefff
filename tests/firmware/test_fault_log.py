"""Faults as the compiled images tell them apart, keep them, and hand them to the bundle."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from tests.firmware.far_end import IMAGES, REAL_TIME, FarEnd
from tests.firmware.plain_host import PlainHost

RESET, BROWN_OUT = 17, 18


def turning(host: PlainHost) -> None:
    host.arm()
    host.must("PREP 2000 2000 0 0 1000 0")
    host.run(2500)


def tachometer_unplugged(host: PlainHost) -> None:
    turning(host)
    host.far.set("tach_dead_0", 1)


def belt_gone(host: PlainHost) -> None:
    """The wheel slows down by itself, its tachometer still on it."""
    turning(host)
    host.far.set("stuck_1", 1)


def weak_motor(host: PlainHost) -> None:
    host.arm()
    host.far.set("by_hand_0", 10)
    host.must("PREP 2000 0 0 0 1000 0")
    host.run(4000)


def sensor_unplugged(host: PlainHost) -> None:
    host.far.set("sensor_dead", 1)
    host.arm()
    host.feed(1, 5500)
    host.run(5500)


def stray(host: PlainHost) -> None:
    host.arm()
    host.far.set("sensor_s", 0.05)


#: What happens to the launcher, and the fault and its detail that it must be told as.
HAPPENINGS: dict[str, tuple[Callable[[PlainHost], None], list[str]]] = {
    "a tachometer unplugged": (tachometer_unplugged, ["10", "1"]),
    "a belt gone": (belt_gone, ["11", "2"]),
    "a weak motor": (weak_motor, ["3", "1"]),
    "a ball sensor unplugged": (sensor_unplugged, ["8", "2"]),
    "a stray ball": (stray, ["6", "0"]),
}


@pytest.mark.parametrize("image", IMAGES)
@pytest.mark.parametrize("happening", HAPPENINGS)
def test_each_is_told_and_kept_as_itself(
    image: str, happening: str, memories: dict[str, Path]
) -> None:
    act, fault = HAPPENINGS[happening]
    with FarEnd(image, memory=memories[image]) as far, PlainHost(far) as host:
        host.open()
        rows = int(host.command("LOG 65535").split(" ")[-1])
        act(host)
        host.run(3500)
        assert host.words("FAULT") == [fault]
        assert host.must("LOG 0")[2:] == fault
        assert host.command("LOG 65535") == f"NO 17 {rows + 1}"
        assert not far.get()["power"]


@pytest.mark.parametrize("image", IMAGES)
def test_what_is_kept_outlasts_the_power_and_every_start_but_by_power_is_kept(
    image: str, memories: dict[str, Path]
) -> None:
    with FarEnd(image, memory=memories[image]) as far, PlainHost(far) as host:
        host.open()
        stray(host)
        host.run(1000)
        kept = host.must("LOG 0")
        assert kept[2] == "6"
        far.tell("reset")
        host.advance(100)
        assert host.must("LOG 0")[2] == str(RESET)
        assert host.must("LOG 1") == kept
        far.tell("brown-out")
        host.advance(100)
        # An RP2040 has one flag for power and brown-out: nothing unclean is seen.
        newest = host.must("LOG 0")[2]
        assert newest == str(RESET if image == "rp2040" else BROWN_OUT)
        assert host.state() == 0


@pytest.mark.real_time
@pytest.mark.parametrize("image", ["avr", "posix"])
def test_bundle_reads_the_log_without_opening_the_launcher(
    image: str, memories: dict[str, Path], tmp_path: Path
) -> None:
    memory, target = tmp_path / "memory", tmp_path / "report.zip"
    with FarEnd(image, memory=memories[image]) as far, PlainHost(far) as host:
        host.open()
        stray(host)
        host.run(1000)
        far.save(memory)
    words = ["bundle", "-o", str(target), "--no-journal", "--on"]
    with FarEnd(image, pace=REAL_TIME, memory=memory) as far:
        done = CliRunner().invoke(verbs, [*words, f"serial:{far.pty}"])
    assert done.exit_code == 0, done.output
    assert "stray-ball (a ball came that nobody had asked for)" in done.output
    kept = json.loads(zipfile.ZipFile(target).read("fault-log.json"))
    assert kept["rows"][0]["kind"] == "stray-ball"
    assert kept["launcher"].startswith("feedscript-reference")
