"""``mapped:FILE@serial:DEVICE`` or ``mapped:FILE@tcp:HOST:PORT``."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from pathlib import Path

import anyio
from anyio.abc import ByteStream

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort, StopCategory
from feedscript_drivers.mapped.description.keys import Mapping
from feedscript_drivers.mapped.description.read import read_mapping
from feedscript_drivers.mapped.launcher import MappedLauncher
from feedscript_drivers.pages import ADDRESS
from feedscript_drivers.transports import serial_port, tcp
from feedscript_drivers.transports.tap import transport_tap
from feedscript_drivers.wire.one_error import one_error

_FAREWELL_S = 1.0


@contextlib.asynccontextmanager
async def open_mapped(
    mapping: Mapping, stream: ByteStream, options: ConnectOptions, device: str
) -> AsyncIterator[MappedLauncher]:
    """A mapped device at the far end of ``stream``. It is stopped on entering and on leaving."""
    launcher = MappedLauncher(mapping, stream, device, options.profile)
    with one_error():
        async with stream, anyio.create_task_group() as tasks:
            for task in MappedLauncher.TASKS:
                tasks.start_soon(task, launcher)
            try:
                await launcher.open()
                yield launcher
            finally:
                with (
                    anyio.move_on_after(_FAREWELL_S, shield=True),
                    contextlib.suppress(LauncherError),
                ):
                    await launcher.stop(StopCategory.RUN_DOWN)
                launcher.close()
                tasks.cancel_scope.cancel()


@contextlib.asynccontextmanager
async def connect(address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
    """Opens a mapped device."""
    file, _, url = address.rpartition("@serial:")
    scheme = "serial"
    if not file:
        file, _, url = address.rpartition("@tcp:")
        scheme = "tcp"
    if not file:
        raise LauncherError(
            ADDRESS.report(
                f"{address!r} does not say where the device is",
                help="write mapped:FILE@serial:DEVICE or mapped:FILE@tcp:HOST:PORT",
                device=f"mapped:{address}",
            )
        )
    mapping = read_mapping(Path(file))
    async with (
        await _stream(mapping, scheme, url) as wire,
        transport_tap(wire, options.capture) as stream,
        open_mapped(mapping, stream, options, f"mapped:{address}") as launcher,
    ):
        yield launcher


async def _stream(mapping: Mapping, scheme: str, url: str) -> ByteStream:
    if scheme == "tcp":
        # No device of this kind has a key: what another machine says could be anybody's.
        return await tcp.open_stream(url, here_only=True)
    device, baud = serial_port.parse_address(url, mapping.device.baud)
    return serial_port.SerialStream(serial_port.open_port(device, baud, raise_dtr=True))
