"""The port's conformance suite against everything of this project that answers to the port."""

from __future__ import annotations

import anyio
import trio
import trio.testing
from feedscript_drivers.transports import serial_port, tcp
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher
from feedscript_simulator.faults import LineFaults
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.faulty_line import FaultyStream
from feedscript_simulator.links.in_process import DirectStream
from feedscript_simulator.links.on_pty import on_pty
from feedscript_simulator.links.on_tcp import on_tcp
from feedscript_simulator.stand_in import StandIn, build

from feedscript.launcher.port import ConnectOptions
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.shipped import shipped_folder
from tests.drivers.conformance.port_suite import CHECKS, Lab, walk_through

PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None
KEY = bytes(range(32))


def lab_for(driver: str, stand_in: StandIn, **more) -> Lab:
    async def person_arms() -> None:
        await anyio.sleep(0.1)
        stand_in.person.turn_key(anyio.current_time())
        stand_in.changed()

    return Lab(
        driver,
        setting=Setting(drives=(1200.0, 1200.0), pan_deg=1.0, tilt_deg=5.0),
        person_arms=person_arms,
        ceiling=(1300.0, 1300.0),
        too_fast=Setting(drives=(1400.0, 1200.0), pan_deg=0.0, tilt_deg=5.0),
        spin_up_s=2.0,
        gap_s=2.0,
        **more,
    )


def stand_in_of(**options) -> StandIn:
    return build(PROFILE, arms_by_itself=False, powered_s=anyio.current_time(), **options)


def test_in_process_on_the_virtual_clock() -> None:
    async def run() -> list[str]:
        stand_in = stand_in_of()
        driven = Driven(stand_in, lambda _bytes: None)
        stream = FaultyStream(DirectStream(driven), LineFaults(), 0)
        options = ConnectOptions(profile=PROFILE, session=1)

        async def cut() -> None:
            stream.cut_off()

        async with anyio.create_task_group() as tasks:
            tasks.start_soon(driven.keep_time)
            tasks.start_soon(stream.carry_out)
            tasks.start_soon(stream.carry_back)
            tasks.start_soon(stream.deliver_back)
            async with open_launcher(stream, options, "sim:", trust=Trust.PLAIN) as launcher:
                made = await walk_through(launcher, lab_for("sim", stand_in, cut=cut))
            tasks.cancel_scope.cancel()
        return made

    made = trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))
    assert made == [guarantee for guarantee, _ in CHECKS]


def test_over_a_pty() -> None:
    async def run() -> list[str]:
        stand_in = stand_in_of()
        async with on_pty(stand_in) as device:
            options = ConnectOptions(profile=PROFILE, session=1)
            async with serial_port.connect(device, options) as launcher:
                return await walk_through(launcher, lab_for("serial", stand_in))

    assert len(anyio.run(run)) == len(CHECKS)


def test_over_tcp_with_the_key() -> None:
    async def run() -> list[str]:
        stand_in = stand_in_of(cable=False, key=KEY)
        async with on_tcp(stand_in, 0) as address:
            options = ConnectOptions(profile=PROFILE, session=1, key=KEY)
            async with tcp.connect(address, options) as launcher:
                return await walk_through(launcher, lab_for("tcp", stand_in))

    assert len(anyio.run(run)) == len(CHECKS)
