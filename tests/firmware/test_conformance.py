"""The port's conformance suite against the compiled firmware, through the project's own driver."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path

import anyio
import pytest
from feedscript_drivers.transports.serial_port import connect

from feedscript.launcher.port import ConnectOptions
from feedscript.launcher.setting import Setting
from tests.drivers.conformance.port_suite import CHECKS, Lab, walk_through
from tests.firmware.far_end import IMAGES, REAL_TIME, FarEnd
from tests.firmware.virtual_link import garage, in_virtual_time, stepped_launcher


def lab_for(far: FarEnd, person_arms: Callable[[], Awaitable[None]]) -> Lab:
    """What the suite may ask of an image; the cable is cut at the end."""

    async def cut() -> None:
        far.set("cut", 1)

    return Lab(
        "serial",
        setting=Setting(drives=(1200.0, 1200.0), pan_deg=1.0, tilt_deg=5.0),
        person_arms=person_arms,
        ceiling=(1300.0, 1300.0),
        too_fast=Setting(drives=(1400.0, 1200.0), pan_deg=0.0, tilt_deg=5.0),
        spin_up_s=5.0,  # before the first move since power-up the longest way is allowed for
        gap_s=2.0,
        leave_within_s=0.002,
        cut=cut,
    )


async def walk(far: FarEnd) -> list[str]:
    """Every check on one stepped image."""
    async with stepped_launcher(far, garage()) as (launcher, stream):
        stream.person.absent = True  # the suite says when the person acts
        return await walk_through(launcher, lab_for(far, stream.person.arm))


@pytest.mark.parametrize("image", IMAGES)
def test_the_firmware_answers_as_every_launcher_must(
    image: str, garage_memory: dict[str, Path]
) -> None:
    with FarEnd(image, memory=garage_memory[image]) as far:
        made = in_virtual_time(walk, far)
    assert made == [guarantee for guarantee, _ in CHECKS]


async def walk_a_pty(far: FarEnd) -> list[str]:
    """Every check through the serial driver, on the wall's clock."""

    async def person_arms() -> None:
        far.set("arm_switch", 0)
        await anyio.sleep(0.2)
        far.set("arm_switch", 1)

    options = ConnectOptions(profile=garage(), session=1)
    async with connect(far.pty, options) as launcher:
        return await walk_through(launcher, lab_for(far, person_arms))


@pytest.mark.long
@pytest.mark.parametrize("image", IMAGES)
def test_the_firmware_answers_over_a_pty_in_real_time(
    image: str, garage_memory: dict[str, Path]
) -> None:
    with FarEnd(image, pace=REAL_TIME, memory=garage_memory[image]) as far:
        made = anyio.run(walk_a_pty, far)
    assert made == [guarantee for guarantee, _ in CHECKS]
