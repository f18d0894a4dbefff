"""Bluetooth end to end without a radio: bleak's own Linux backend, and a backend on bumble."""

from __future__ import annotations

import logging

import anyio
import pytest
from feedscript_drivers.transports import ble
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.protocol import StopCharacter
from feedscript_simulator.stand_in import StandIn, build

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherState, LinkLost
from tests.drivers.conformance.port_suite import CHECKS, walk_through
from tests.drivers.conformance.test_port import KEY, PROFILE, lab_for
from tests.drivers.virtual_ble.air import Air
from tests.drivers.virtual_ble.bleak_backend import bleak_on
from tests.drivers.virtual_ble.bluez import bluetooth_service
from tests.drivers.virtual_ble.central import central
from tests.drivers.virtual_ble.peripheral import peripheral

NAME = "bench"


@pytest.fixture(autouse=True)
def quiet(monkeypatch, tmp_path):
    """bleak says that it lost the bus when the bus is taken down; keys are nobody's own."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    logging.getLogger("bleak").setLevel(logging.ERROR)


def radio_stand_in(**options) -> StandIn:
    return build(
        PROFILE,
        arms_by_itself=False,
        powered_s=anyio.current_time(),
        cable=False,
        **{"key": KEY, **options},
    )


def options_with(key: bytes | None = KEY) -> ConnectOptions:
    return ConnectOptions(profile=PROFILE, session=1, key=key)


def test_the_port_through_bleaks_linux_backend() -> None:
    """The conformance suite over D-Bus, ending with a launcher whose power is cut."""

    async def run() -> list[str]:
        air, stand_in = Air(), radio_stand_in()
        host = await central(air)
        async with peripheral(air, stand_in, NAME) as launcher_end, bluetooth_service(host):

            async def cut() -> None:
                launcher_end.vanish()

            async with ble.connect(NAME, options_with()) as launcher:
                return await walk_through(launcher, lab_for("ble", stand_in, cut=cut))

    assert len(anyio.run(run)) == len(CHECKS)


def test_lines_are_cut_to_the_smallest_packet() -> None:
    """ATT_MTU 23 leaves 20 bytes a write (Bluetooth Core Specification, vol 3 part F 3.2.8)."""

    async def run() -> list[int]:
        air, stand_in = Air(), radio_stand_in()
        async with peripheral(air, stand_in, NAME, most_mtu=23) as launcher_end:
            with bleak_on(await central(air)):
                async with ble.connect(NAME, options_with()) as launcher:
                    for _ in range(5):
                        assert (await launcher.status()).state is LauncherState.SAFE
            return launcher_end.written_sizes

    sizes = anyio.run(run)
    assert max(sizes) == 20


def test_a_vanished_launcher_is_a_lost_link_before_the_radio_says_so() -> None:
    async def run() -> float:
        air, stand_in = Air(), radio_stand_in()
        async with peripheral(air, stand_in, NAME) as launcher_end:
            with bleak_on(await central(air)):
                async with ble.connect(NAME, options_with()) as launcher:
                    await launcher.arm((1000.0, 1000.0))  # heartbeats come often from now on
                    await anyio.sleep(0.3)
                    launcher_end.vanish(supervision_timeout_s=6.0)
                    cut = anyio.current_time()
                    async for event in launcher.events():
                        if isinstance(event, LinkLost):
                            return anyio.current_time() - cut
        return -1.0

    assert 0 < anyio.run(run) < 1.5


def test_without_the_key_the_link_reads_and_stops_and_nothing_else() -> None:
    async def run() -> None:
        air, stand_in = Air(), radio_stand_in()
        async with peripheral(air, stand_in, NAME):
            with bleak_on(await central(air)):
                with pytest.raises(LauncherError) as caught:
                    async with ble.connect(NAME, options_with(None)):
                        pass
                assert caught.value.diagnostic.slug == "key-refused"
                async with ble.radio_link(NAME) as stream:
                    for number, word in enumerate(("STAT", "GET 10", "STOP 1"), start=1):
                        await stream.send(plain_line(f"{number} {word}"))
                        assert b" OK" in await stream.receive()
                    for number, word in enumerate(("OPEN 1 2", "ARM 9 9 0", "SET 1 9"), start=5):
                        await stream.send(plain_line(f"{number} {word}"))
                        assert b" NO 13" in await stream.receive()
                    await stream.send(bytes([StopCharacter.EMERGENCY]))
                    await anyio.sleep(0.2)
        assert stand_in.end.machine.state is LauncherState.STOPPED

    anyio.run(run)


def test_a_launcher_that_is_not_there_is_named(monkeypatch) -> None:
    async def run() -> None:
        monkeypatch.setattr(ble, "SCAN_S", 0.3)
        with bleak_on(await central(Air())):
            async with ble.connect("nobody", options_with()):
                pass

    with pytest.raises(LauncherError) as caught:
        anyio.run(run)
    assert caught.value.diagnostic.slug == "launcher-not-found"
    assert "nobody" in caught.value.diagnostic.message


def test_no_bluetooth_service_is_a_diagnostic(monkeypatch, tmp_path) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/nothing")
    with pytest.raises(LauncherError) as caught:
        anyio.run(ble.scan, 0.1)
    assert caught.value.diagnostic.slug == "no-bluetooth"
