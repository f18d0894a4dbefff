"""A capture played back is the same launcher again."""

from __future__ import annotations

import contextlib
from pathlib import Path

import anyio
import pytest
import trio
import trio.testing
from feedscript_drivers.transports import replay
from feedscript_drivers.transports.tap import transport_tap
from feedscript_drivers.wire.wire_launcher import open_launcher
from feedscript_simulator.faults import Faults
from feedscript_simulator.links import in_process
from feedscript_simulator.stand_in import build
from hypothesis import given
from hypothesis import strategies as st

from feedscript.launcher.port import ConnectOptions, Event, LauncherError, ScheduledFeed
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.shipped import shipped_folder

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
SETTING = Setting(drives=(1200.0, 1200.0), pan_deg=0.0, tilt_deg=5.0)
KEY = bytes(range(32))


@contextlib.asynccontextmanager
async def keyed(_address: str, options: ConnectOptions):
    """A link that is no cable: every line of the session carries a tag."""
    stand_in = build(PROFILE, powered_s=anyio.current_time(), cable=False, key=KEY)
    async with (
        in_process.attach(stand_in, Faults()) as wire,
        transport_tap(wire, options.capture) as stream,
        open_launcher(stream, options, "radio") as launcher,
    ):
        yield launcher


async def lesson(connect, address: str, options: ConnectOptions) -> list[Event]:
    """Three balls; every event, without its moment."""
    events: list[Event] = []

    async def listen(launcher) -> None:
        async for event in launcher.events():
            events.append(event)

    async with connect(address, options) as launcher, anyio.create_task_group() as tasks:
        tasks.start_soon(listen, launcher)
        await launcher.arm((1200.0, 1200.0))
        await anyio.sleep(3)
        await launcher.prepare(SETTING)
        clock = await launcher.measure_clock()
        now = anyio.current_time() + clock.offset_s
        for feed_id in (1, 2, 3):
            await launcher.schedule(
                ScheduledFeed(
                    feed_id=feed_id, setting=SETTING, leave_at_device_s=now + 3 + 2 * feed_id
                )
            )
        await anyio.sleep(12)
        await launcher.disarm()
        await anyio.sleep(1)
        tasks.cancel_scope.cancel()
    return events


def on_virtual_clock(function, *arguments):
    return trio.run(function, *arguments, clock=trio.testing.MockClock(autojump_threshold=0))


@pytest.mark.parametrize(("connect", "key"), [(in_process.connect, None), (keyed, KEY)])
def test_a_capture_plays_back_the_same_lesson(tmp_path: Path, connect, key) -> None:
    """Whoever plays it back needs no key: a report of trouble never holds one."""
    file = tmp_path / "wire.capture"
    options = ConnectOptions(profile=PROFILE, session=9, capture=file, key=key)
    first = on_virtual_clock(lesson, connect, "", options)
    assert (b"#" in file.read_bytes()) == (key is not None)
    assert sum(type(event).__name__ == "Left" for event in first) == 3
    copy = tmp_path / "copy.capture"
    again = ConnectOptions(profile=PROFILE, session=9, capture=copy)
    second = on_virtual_clock(lesson, replay.connect, str(file), again)
    assert b" FEED " in copy.read_bytes()
    assert [(type(e), getattr(e, "feed_id", None), getattr(e, "state", None)) for e in first] == [
        (type(e), getattr(e, "feed_id", None), getattr(e, "state", None)) for e in second
    ]


def test_a_capture_that_is_there_is_never_overwritten(tmp_path: Path) -> None:
    """It may be the only trace of what went wrong before."""
    file = tmp_path / "wire.capture"
    file.write_text("precious", encoding="ascii")
    options = ConnectOptions(profile=PROFILE, session=9, capture=file)
    with pytest.raises(LauncherError) as caught:
        on_virtual_clock(lesson, in_process.connect, "", options)
    assert caught.value.diagnostic.slug == "capture-file"
    assert file.read_text(encoding="ascii") == "precious"


def test_a_cut_capture_ends_as_a_lost_link(tmp_path: Path) -> None:
    file = tmp_path / "wire.capture"
    on_virtual_clock(
        lesson, in_process.connect, "", ConnectOptions(profile=PROFILE, session=9, capture=file)
    )
    lines = file.read_text(encoding="ascii").splitlines()
    file.write_text("\n".join(lines[: len(lines) // 2]), encoding="ascii")
    with pytest.raises(LauncherError) as caught:
        on_virtual_clock(
            lesson, replay.connect, str(file), ConnectOptions(profile=PROFILE, session=9)
        )
    assert caught.value.diagnostic.slug in ("link-lost", "no-answer")


@given(st.binary(max_size=200) | st.text(max_size=100).map(str.encode))
def test_a_file_that_is_no_capture_is_refused(tmp_path_factory, data: bytes) -> None:
    file = tmp_path_factory.mktemp("capture") / "file"
    file.write_bytes(data)
    with pytest.raises(LauncherError) as caught:
        replay.read_capture(file)
    assert caught.value.diagnostic.slug == "capture-file"
