"""Two real processes over a real pty or socket, and what happens when one of them dies."""

from __future__ import annotations

import signal
import socket
import struct
import subprocess
import sys

import anyio
import pytest
from feedscript_drivers.transports.serial_port import connect
from feedscript_drivers.wire.protocol import Times

from feedscript.launcher.port import ConnectOptions, Event, LauncherError, Left, LinkLost
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder
from tests.simulator.stand_in_process import FEEDSCRIPT, HOST, stand_in

pytestmark = pytest.mark.real_time

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None


@pytest.mark.parametrize("where", [("--pty",), ("--tcp", "0")], ids=["pty", "tcp"])
def test_a_killed_host_stops_the_launcher_within_its_watchdog(where, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with stand_in(*where) as (_, lines, address):
        host = subprocess.Popen([sys.executable, "-c", HOST, address], stdout=subprocess.PIPE)
        try:
            last = lines.wait_for(event="left", feed_id=2)
        finally:
            host.send_signal(signal.SIGKILL)
            host.wait()
            host.stdout.close()
        stopped = lines.wait_for(event="state", reason="silence")
        flushed = lines.wait_for(event="not-sent", feed_id=3)
        off = lines.wait_for(event="state", reason="drives-off")
        # The host died after ball 2 was reported: silence counts from an echo of about then.
        assert stopped["at_s"] - last["at_s"] <= (Times.SILENCE + 2 * Times.HEARTBEAT) / 1000
        assert off["at_s"] - stopped["at_s"] <= Times.RUN_DOWN / 1000 + 0.001
        assert flushed["reason"] == "silence"
    assert not [line for line in lines.seen if line.get("feed_id", 0) > 2 and "drives" in line]


def test_a_connection_that_is_reset_ends_nothing_else(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with stand_in("--tcp", "0") as (process, _, address):
        place = ("127.0.0.1", int(address.rpartition(":")[2]))
        for _ in range(5):
            with socket.create_connection(place) as caller:
                caller.sendall(b"half a line")
                at_once = struct.pack("ii", 1, 0)
                caller.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, at_once)
        with pytest.raises(subprocess.TimeoutExpired):  # it goes on
            process.wait(timeout=1.0)
        socket.create_connection(place).close()


def test_a_launcher_that_vanishes_is_a_lost_link() -> None:
    """The pty closes under the driver: it says so at once, and every later call fails."""

    async def watch(process, address: str) -> list[Event]:
        options = ConnectOptions(profile=PROFILE, session=3)
        async with connect(address.removeprefix("serial:"), options) as launcher:
            process.kill()
            with anyio.fail_after(5):
                events = [event async for event in launcher.events()]
            with pytest.raises(LauncherError) as caught:
                await launcher.status()
            assert caught.value.diagnostic.slug == "link-lost"
        return events

    with stand_in("--pty") as (process, _, address):
        events = anyio.run(watch, process, address)
    assert isinstance(events[-1], LinkLost)
    assert not any(isinstance(event, Left) for event in events)


def test_a_launcher_whose_words_nobody_reads_any_more_goes_on(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    command = [*FEEDSCRIPT, "stand-in", "--tcp", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(4.0)
        process.send_signal(signal.SIGTERM)
        assert process.wait(20.0) == 0
        assert b"Traceback" not in process.stderr.read()
