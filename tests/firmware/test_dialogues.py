"""Every compiled image plays the whole exchanges of ``shared/vectors/dialogues.json``."""

from __future__ import annotations

import os
import select
from pathlib import Path

import pytest

from tests.dialogues import BOOK, LONG, STORIES, play
from tests.firmware.conftest import Memories
from tests.firmware.far_end import IMAGES, FarEnd, open_raw
from tests.firmware.plain_host import PlainHost
from tests.firmware.virtual_link import BOARD_NUMBERS

ACTS = {
    "switch on": ("arm_switch", 1),
    "switch off": ("arm_switch", 0),
    "emergency pressed": ("loop_open", 1),
    "emergency released": ("loop_open", 0),
    "next ball jams": ("jammed", 1),
    "hopper empty": ("hopper", 0),
}


class ImageBench:
    """A stepped image, its pty, and hands for the person."""

    def __init__(self, far: FarEnd) -> None:
        self.far = far
        self.descriptor = open_raw(far.pty)
        self.written = self.got = 0
        self.early = self.advance(30)  # a line that comes before the controller listens is lost

    def write(self, data: bytes) -> None:
        while data:
            count = os.write(self.descriptor, data)
            self.written += count
            data = data[count:]

    def advance(self, ms: int) -> bytes:
        pins = self.far.run(ms, self.written)
        data, self.early = getattr(self, "early", b""), b""
        while self.got < pins["sent"]:
            select.select([self.descriptor], [], [], 1.0)
            chunk = os.read(self.descriptor, 65536)
            self.got += len(chunk)
            data += chunk
        return data

    def turn(self, what: str) -> None:
        if what == "power off and on":
            self.far.tell("reset")
            self.early = self.advance(30)
        else:
            self.far.set(*ACTS[what])

    def is_off(self) -> bool:
        pins = self.far.get()
        return not (pins["power"] or pins["gate"] or any(pins["duty"]) or any(pins["servo_us"]))


@pytest.fixture(scope="module")
def set_up(images: str, tmp_path_factory: pytest.TempPathFactory) -> Memories:
    """Each image's memory with the numbers and the hash that the stories begin with."""
    folder = tmp_path_factory.mktemp("dialogues")
    numbers = {int(number): value for number, value in BOOK["numbers"].items()}

    def write(image: str) -> Path:
        with FarEnd(image) as far, PlainHost(far) as host:
            host.configure({**numbers, **BOARD_NUMBERS}, BOOK["hash"])
            far.save(folder / image)
        return folder / image

    return Memories(write)


@pytest.mark.parametrize("image", IMAGES)
@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=[pytest.mark.long] if name in LONG else []) for name in STORIES],
)
def test_the_image_plays_the_story(name: str, image: str, set_up: dict[str, Path]) -> None:
    with FarEnd(image, memory=set_up[image]) as far:
        bench = ImageBench(far)
        try:
            play(bench, name)
        finally:
            os.close(bench.descriptor)
