"""What the host is told when the launcher restarts under it, on every compiled image."""

from __future__ import annotations

import anyio
import pytest

from feedscript.launcher.port import LinkLost
from tests.firmware.far_end import IMAGES, FarEnd
from tests.firmware.virtual_link import garage, in_virtual_time, stepped_launcher


async def told(far: FarEnd, what: str) -> str:
    async with stepped_launcher(far, garage()) as (launcher, _):
        await anyio.sleep(0.5)
        far.tell(what)
        async for event in launcher.events():
            if isinstance(event, LinkLost):
                return event.detail
    raise AssertionError("the events ended without a word")


@pytest.mark.parametrize("image", IMAGES)
@pytest.mark.parametrize(("what", "word"), [("brown-out", "dipped"), ("reset", "reset")])
def test_a_brown_out_is_told_from_a_reset(image: str, what: str, word: str) -> None:
    """An RP2040 has one flag for power and brown-out: it says that power came back."""
    if (image, what) == ("rp2040", "brown-out"):
        word = "power was gone"
    with FarEnd(image) as far:
        detail = in_virtual_time(told, far, what)
    assert "restarted" in detail
    assert word in detail
