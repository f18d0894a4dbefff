"""The project's own driver on a stepped image: both live in one virtual time.

Every five milliseconds of trio's test clock the image runs five milliseconds, so a lesson of some
minutes against the compiled firmware takes seconds, and runs alike however busy the machine is.
"""

from __future__ import annotations

import contextlib
import os
import re
import select
from collections.abc import AsyncIterator, Mapping
from pathlib import Path
from typing import Any, Protocol

import anyio
import trio
import trio.testing
from anyio.abc import ByteStream
from feedscript_drivers.wire.limits import stored_numbers
from feedscript_drivers.wire.one_error import one_error
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import WireLauncher, open_launcher

from feedscript.launcher.port import ConnectOptions
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder
from tests.firmware.far_end import FarEnd, open_raw
from tests.firmware.plain_host import NUMBERS, PlainHost

STEP_MS = 5
#: Asked by the host, plain or keyed; not while its axes look for their places (reason 16).
WAITS_FOR_ARMING = re.compile(rb" STATE 1 1[*#]")
LONGEST = len(b" STATE 1 1*")
BOARD_NUMBERS = {number: value for number, value in NUMBERS.items() if number >= 64}


def garage() -> Profile:
    """The shipped invented profile that the images are configured for."""
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    return profile


def configure_for(profile: Profile, image: str, path: Path) -> None:
    """Write an image's memory as setting it up with this profile would."""
    numbers: Mapping[int, int] = {
        **{int(which): value for which, value in stored_numbers(profile).items()},
        **BOARD_NUMBERS,
    }
    with FarEnd(image) as far, PlainHost(far) as host:
        host.configure(numbers, profile_hash(profile))
        far.save(path)


def in_virtual_time(program: Any, *arguments: Any) -> Any:
    """Run on trio's jumping clock."""
    return trio.run(program, *arguments, clock=trio.testing.MockClock(autojump_threshold=0))


class Switches(Protocol):
    """What a person can touch."""

    def set(self, name: str, value: int) -> None: ...


class Person:
    """Whoever stands at the launcher: turns the switch off, then on, when it waits for that."""

    def __init__(self, far: Switches) -> None:
        self.far = far
        self.absent = False
        self._seen = b""  # so much of the last piece as can be the beginning of a word

    async def watch(self, data: bytes, tasks: anyio.abc.TaskGroup) -> None:
        """Look at what the launcher says (a lamp, on a real one), however it is cut in pieces."""
        seen = self._seen + data
        self._seen = seen[-LONGEST + 1 :]
        if WAITS_FOR_ARMING.search(seen) and not self.absent:
            tasks.start_soon(self.arm)

    async def arm(self) -> None:
        """The act."""
        self.far.set("arm_switch", 0)
        await anyio.sleep(0.5)
        self.far.set("arm_switch", 1)


class SteppedStream(ByteStream):
    """The host's end of the cable to a stepped image, or of the radio (link 1)."""

    def __init__(self, far: FarEnd, link: int = 0) -> None:
        self.far = far
        self.person = Person(far)
        self._link = link
        self._received, self._sent = (
            ("radio_received", "radio_sent") if link else ("received", "sent")
        )
        self._descriptor = open_raw(far.radio if link else far.pty)
        with contextlib.suppress(BlockingIOError):
            while os.read(self._descriptor, 65536):  # what was said to the host before
                pass
        pins = far.get()
        self._written, self._got = pins[self._received], pins[self._sent]
        self._coming = bytearray()
        self._readable = anyio.Event()
        self.closed = False

    async def drive(self) -> None:
        """Run the image beside the clock until the stream is closed."""
        async with anyio.create_task_group() as tasks:
            while not self.closed:
                await anyio.sleep(STEP_MS / 1000)
                data = self._step()
                await self.person.watch(data, tasks)
                if data:
                    self._coming += data
                    self._readable.set()
            tasks.cancel_scope.cancel()

    def _step(self) -> bytes:
        pins = self.far.run(STEP_MS, self._written, self._link)
        data = b""
        while self._got < pins[self._sent]:
            select.select([self._descriptor], [], [], 1.0)
            chunk = os.read(self._descriptor, 65536)
            self._got += len(chunk)
            data += chunk
        return data

    async def send(self, item: bytes) -> None:
        await anyio.lowlevel.checkpoint_if_cancelled()
        if self.closed:
            raise anyio.ClosedResourceError
        while item:
            count = os.write(self._descriptor, item)
            self._written += count
            item = item[count:]

    async def receive(self, max_bytes: int = 65536) -> bytes:
        while not self._coming:
            if self.closed:
                raise anyio.EndOfStream
            self._readable = anyio.Event()
            await self._readable.wait()
        data = bytes(self._coming[:max_bytes])
        del self._coming[:max_bytes]
        return data

    async def send_eof(self) -> None:
        """A cable has no end to send."""

    async def aclose(self) -> None:
        self.closed = True
        self._readable.set()

    def let_go(self) -> None:
        """Close the pty; after that nothing drives the image any more."""
        os.close(self._descriptor)


@contextlib.asynccontextmanager
async def stepped_launcher(
    far: FarEnd,
    profile: Profile,
    session: int = 7,
    *,
    trust: Trust = Trust.PLAIN,
    link: int = 0,
) -> AsyncIterator[tuple[WireLauncher, SteppedStream]]:
    """The driver, opened on a stepped image."""
    stream = SteppedStream(far, link)
    try:
        with one_error():
            async with anyio.create_task_group() as tasks:
                tasks.start_soon(stream.drive)
                options = ConnectOptions(profile=profile, session=session)
                async with open_launcher(stream, options, "stepped", trust=trust) as launcher:
                    yield launcher, stream
                tasks.cancel_scope.cancel()
    finally:
        stream.let_go()
