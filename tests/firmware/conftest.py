"""Images built once a run, and launchers configured as a person at the cable would do it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.firmware.far_end import IMAGES, FarEnd, make
from tests.firmware.plain_host import PlainHost
from tests.firmware.virtual_link import configure_for, garage


@pytest.fixture(scope="session")
def images() -> str:
    """Both images and the harness, built from source; the size report. A missing tool fails."""
    return make("all", "build/launcher-checked", "build/vectors")


@pytest.fixture(scope="session")
def memories(images: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """For each image its non-volatile memory with every limit set, written over the wire."""
    folder = tmp_path_factory.mktemp("memories")
    for image in IMAGES:
        with FarEnd(image) as far, PlainHost(far) as host:
            host.configure()
            far.save(folder / image)
    return {image: folder / image for image in IMAGES}


@pytest.fixture(scope="session")
def garage_memory(images: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Each image's memory, set up with the shipped garage profile over the wire."""
    folder = tmp_path_factory.mktemp("garage")
    for image in IMAGES:
        configure_for(garage(), image, folder / image)
    return {image: folder / image for image in IMAGES}


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
