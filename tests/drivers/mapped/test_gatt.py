"""A mapped device by Bluetooth: bleak as it is, on a virtual radio."""

from __future__ import annotations

import logging

import anyio
import pytest
from feedscript_drivers.mapped.driver import connect

from feedscript.launcher.change import change_s
from feedscript.launcher.port import (
    ConnectOptions,
    LauncherError,
    Left,
    LinkLost,
    NotSent,
    ScheduledFeed,
    StopCategory,
)
from feedscript.launcher.setting import Setting
from tests.drivers.mapped.mappings import FILES
from tests.drivers.mapped.radio_device import radio_device
from tests.drivers.mapped.test_frames import PROFILE
from tests.drivers.virtual_ble.air import Air
from tests.drivers.virtual_ble.bleak_backend import bleak_on
from tests.drivers.virtual_ble.central import central

WHERE = f"{FILES['by-radio']}@ble:bench"
OPTIONS = ConnectOptions(profile=PROFILE, session=1)
SETTING = Setting(drives=(700.0, 600.0), pan_deg=1.0, tilt_deg=2.0)


@pytest.fixture(autouse=True)
def quiet() -> None:
    logging.getLogger("bleak").setLevel(logging.ERROR)


def test_a_ball_leaves_at_its_setting_and_a_vanished_device_is_a_lost_link(tmp_path) -> None:
    """Found by its name though its service is not advertised; written with and without response."""
    capture = tmp_path / "radio.capture"

    async def run() -> tuple[float, list[object]]:
        air: Air = Air()
        host, events = await central(air), []
        options = ConnectOptions(profile=PROFILE, session=1, capture=capture)
        async with radio_device(air, "bench") as there:
            with bleak_on(host):
                async with connect(WHERE, options) as launcher:
                    await launcher.arm((800.0, 700.0))
                    need_s = change_s(PROFILE, None, SETTING) + launcher.description.asking_s
                    leaves_s = anyio.current_time() + need_s + 0.5
                    await launcher.schedule(
                        ScheduledFeed(feed_id=1, setting=SETTING, leave_at_device_s=leaves_s)
                    )
                    async for event in launcher.events():
                        assert not isinstance(event, NotSent), event.reason
                        events.append(event)
                        if isinstance(event, Left):
                            await launcher.stop(StopCategory.RUN_DOWN)
                            assert there.device.hardware.asked()[0] == (0.0, 0.0)
                            assert (await launcher.status()).hopper_balls == 255
                            there.air.vanish(there.node, 0.5)
                        if isinstance(event, LinkLost):
                            break
            (gone,) = there.device.hardware.left
            assert gone.drives == pytest.approx((700.0, 600.0))
            assert gone.aim_deg == pytest.approx((1.0, 2.0))
        return leaves_s, events

    leaves_s, events = anyio.run(run)
    (left,) = [event for event in events if isinstance(event, Left)]
    assert abs(left.device_s - leaves_s) < 0.3
    assert "wheels:%BC%02" in capture.read_text("ascii")


@pytest.mark.parametrize("lacks", ["act", "news"])
def test_a_device_without_a_characteristic_of_the_mapping_is_refused(lacks: str) -> None:
    async def run() -> None:
        air = Air()
        host = await central(air)
        async with radio_device(air, "bench", lacks):
            with bleak_on(host):
                async with connect(WHERE, OPTIONS):
                    pass

    with pytest.raises(LauncherError, match=f"no characteristic {lacks}"):
        anyio.run(run)


@pytest.mark.parametrize(
    "address", [f"{FILES['by-radio']}@serial:/dev/null", f"{FILES['attic-lines']}@ble:bench"]
)
def test_a_mapping_goes_with_its_own_kind_of_link(address: str) -> None:
    async def run() -> None:
        async with connect(address, OPTIONS):
            pass

    with pytest.raises(LauncherError) as caught:
        anyio.run(run)
    assert caught.value.diagnostic.slug == "launcher-address"
