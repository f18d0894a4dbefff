"""``mapped:FILE@serial:DEVICE``, ``mapped:FILE@tcp:HOST:PORT`` or ``mapped:FILE@ble:NAME``."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator

import anyio
from anyio.abc import ByteStream

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort, StopCategory
from feedscript.shipped import mapping_path
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
    file, scheme, url = _parts(address)
    mapping = read_mapping(mapping_path(file))
    if (mapping.gatt is None) == (scheme == "ble"):
        raise _wrong(
            address,
            "this mapping is of a cable"
            if mapping.gatt is None
            else "this mapping is of Bluetooth",
            "give the address that belongs to its tables: `[gatt]` is for @ble:NAME",
        )
    async with (
        _stream(mapping, scheme, url) as wire,
        transport_tap(wire, options.capture) as stream,
        open_mapped(mapping, stream, options, f"mapped:{address}") as launcher,
    ):
        yield launcher


_SCHEMES = ("serial", "tcp", "ble")


def _parts(address: str) -> tuple[str, str, str]:
    """The file, how the device is reached, and where. Raises LauncherError."""
    for scheme in _SCHEMES:
        file, _, url = address.rpartition(f"@{scheme}:")
        if file:
            return file, scheme, url
    ways = "mapped:FILE@serial:DEVICE, mapped:FILE@tcp:HOST:PORT or mapped:FILE@ble:NAME"
    raise _wrong(address, f"{address!r} does not say where the device is", f"write {ways}")


def _wrong(address: str, why: str, fix: str) -> LauncherError:
    return LauncherError(ADDRESS.report(why, help=fix, device=f"mapped:{address}"))


@contextlib.asynccontextmanager
async def _stream(mapping: Mapping, scheme: str, url: str) -> AsyncIterator[ByteStream]:
    if mapping.gatt is not None:
        from feedscript_drivers.mapped.gatt import gatt_link  # needs the extra `ble`

        async with gatt_link(mapping.gatt, url) as radio:
            yield radio
    elif scheme == "tcp":
        # No device of this kind has a key: what another machine says could be anybody's.
        yield await tcp.open_stream(url, here_only=True)
    else:
        device, baud = serial_port.parse_address(url, mapping.device.baud)
        yield serial_port.SerialStream(serial_port.open_port(device, baud, raise_dtr=True))
