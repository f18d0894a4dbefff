"""The port's conformance suite against the compiled firmware, through the project's own driver."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.launcher.setting import Setting
from tests.drivers.conformance.port_suite import CHECKS, Lab, walk_through
from tests.firmware.far_end import IMAGES, FarEnd
from tests.firmware.virtual_link import garage, in_virtual_time, stepped_launcher


async def walk(far: FarEnd) -> list[str]:
    """Every check on one image; the cable is cut at the end."""
    async with stepped_launcher(far, garage()) as (launcher, stream):
        stream.person.absent = True  # the suite says when the person acts

        async def cut() -> None:
            far.set("cut", 1)

        lab = Lab(
            "serial",
            setting=Setting(drives=(1200.0, 1200.0), pan_deg=1.0, tilt_deg=5.0),
            person_arms=stream.person.arm,
            ceiling=(1300.0, 1300.0),
            too_fast=Setting(drives=(1400.0, 1200.0), pan_deg=0.0, tilt_deg=5.0),
            spin_up_s=5.0,  # before the first move since power-up the longest way is allowed for
            gap_s=2.0,
            leave_within_s=0.002,
            cut=cut,
        )
        return await walk_through(launcher, lab)


@pytest.mark.parametrize("image", IMAGES)
def test_the_firmware_answers_as_every_launcher_must(
    image: str, garage_memory: dict[str, Path]
) -> None:
    with FarEnd(image, memory=garage_memory[image]) as far:
        made = in_virtual_time(walk, far)
    assert made == [guarantee for guarantee, _ in CHECKS]
