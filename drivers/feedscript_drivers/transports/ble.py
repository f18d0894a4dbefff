"""``ble:NAME``: the wire over Bluetooth LE, on any platform that bleak serves.

A write without response that "succeeds" says nothing: every line is acknowledged by the launcher
itself, and its heartbeat, not the radio's, tells whether the link lives. A radio is not a cable,
so a launcher lets itself be armed only by the holder of its key.
"""

from __future__ import annotations

import asyncio
import contextlib
import math
from collections.abc import AsyncIterator, Callable
from typing import Final

import anyio
from anyio.abc import ByteStream
from bleak import BleakClient, BleakScanner
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.exc import BleakError

from feedscript.diagnostics import Page
from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript.override import override
from feedscript_drivers.pages import NO_SUCH_LAUNCHER
from feedscript_drivers.transports.ble_service import SERVICE
from feedscript_drivers.transports.bridge import OWN, Bridge, bridged, split_address
from feedscript_drivers.transports.tap import transport_tap
from feedscript_drivers.wire.wire_launcher import open_launcher

SCAN_S: Final = 8.0
_CONNECT_S: Final = 15.0

NO_BLUETOOTH = Page(
    slug="no-bluetooth",
    title="Bluetooth cannot be used on this machine now",
    why=(
        "There is no adapter, it is switched off, the Bluetooth service does not run, or this "
        "program may not use it. `feedscript look-over` says which, and the command that fixes it."
    ),
)


class BleStream(ByteStream):
    """The UART-style service of one connected launcher as a byte stream."""

    def __init__(self, client: BleakClient, bridge: Bridge = OWN) -> None:
        self._client = client
        self._bridge = bridge
        self._coming, self._come = anyio.create_memory_object_stream[bytes](math.inf)
        characteristic = client.services.get_characteristic(bridge.to_launcher)
        assert characteristic is not None  # looked for by the caller
        self._to_launcher: BleakGATTCharacteristic = characteristic

    async def listen(self) -> None:
        """Begin to take notifications."""
        await self._client.start_notify(self._bridge.to_host, self._notified)

    def _notified(self, _characteristic: BleakGATTCharacteristic, data: bytearray) -> None:
        with contextlib.suppress(anyio.ClosedResourceError):
            self._coming.send_nowait(bytes(data))

    def ended(self, _client: BleakClient | None = None) -> None:
        """The radio says that the connection is gone."""
        self._coming.close()

    @override
    async def receive(self, max_bytes: int = 65536) -> bytes:
        return await self._come.receive()

    @override
    async def send(self, item: bytes) -> None:
        # What fits one packet is known by the characteristic; the negotiated MTU is not told
        # alike on all platforms.
        step = self._to_launcher.max_write_without_response_size
        try:
            for start in range(0, len(item), step):
                await self._client.write_gatt_char(
                    self._to_launcher,
                    item[start : start + step],
                    response=self._bridge.with_response,
                )
        except (BleakError, OSError, EOFError) as error:
            raise anyio.BrokenResourceError from error

    @override
    async def send_eof(self) -> None:
        """A radio link has no end to send."""

    @override
    async def aclose(self) -> None:
        self._coming.close()
        self._come.close()


async def _find(name: str, service: str, *, advertised: bool) -> BLEDevice:
    """A device in range, by name or address; any with the service if ``name`` is empty. Not every
    device has room for its service in what it ``advertised``."""

    def fits(device: BLEDevice, seen: AdvertisementData) -> bool:
        if name and name not in (seen.local_name, device.name, device.address):
            return False
        return service in seen.service_uuids or bool(name and not advertised)

    try:
        device = await BleakScanner.find_device_by_filter(
            fits, timeout=SCAN_S, service_uuids=[service] if advertised else []
        )
    except (BleakError, OSError, EOFError) as error:
        raise no_bluetooth(f"ble:{name}", error) from error
    if device is None:
        raise LauncherError(
            NO_SUCH_LAUNCHER.report(
                f"step scan: no launcher named {name!r} was heard in {SCAN_S:g} s"
                if name
                else f"step scan: no launcher was heard in {SCAN_S:g} s",
                help="switch it on and come nearer; `feedscript find` lists what is in range",
                device=f"ble:{name}",
            )
        )
    return device


def no_bluetooth(device: str, error: BaseException) -> LauncherError:
    """The error for a machine whose Bluetooth cannot be used."""
    reason = getattr(error, "reason", None)
    detail = f"{error or type(error).__name__}" + (f" ({reason})" if reason else "")
    if isinstance(error, FileNotFoundError | ConnectionRefusedError):
        detail = "the system bus, by which the Bluetooth service is asked, is not there"
    return LauncherError(
        NO_BLUETOOTH.report(
            f"Bluetooth cannot be used: {detail}",
            help="run `feedscript look-over`",
            device=device,
        )
    )


async def scan(seconds: float) -> list[tuple[str, str, int]]:
    """Name, address and signal strength of every launcher in range."""
    try:
        seen = await BleakScanner.discover(
            timeout=seconds, return_adv=True, service_uuids=[SERVICE]
        )
    except (BleakError, OSError, EOFError) as error:
        raise no_bluetooth("ble:", error) from error
    return [
        (advert.local_name or device.name or "", device.address, advert.rssi)
        for device, advert in seen.values()
        if SERVICE in advert.service_uuids
    ]


@contextlib.asynccontextmanager
async def connected(
    name: str, service: str, lost: Callable[[], None], *, advertised: bool = True
) -> AsyncIterator[BleakClient]:
    """A connection to the device with this name; bonds where the platform can. ``lost`` is called
    when the radio says that it is gone."""
    _require_asyncio()
    device = await _find(name, service, advertised=advertised)
    client = BleakClient(device, disconnected_callback=lambda _: lost(), timeout=_CONNECT_S)
    try:
        await client.connect()
    except (BleakError, OSError, EOFError, TimeoutError) as error:
        raise unreachable(name, str(error) or type(error).__name__) from error
    try:
        with contextlib.suppress(BleakError, NotImplementedError, OSError, EOFError):
            await client.pair()
        yield client
    except BleakError as error:
        raise unreachable(name, str(error)) from error
    finally:
        with (
            anyio.move_on_after(2, shield=True),
            contextlib.suppress(BleakError, OSError, EOFError, asyncio.CancelledError),
        ):
            await client.disconnect()


@contextlib.asynccontextmanager
async def radio_link(name: str, bridge: Bridge = OWN) -> AsyncIterator[BleStream]:
    """A byte stream to the launcher with this name, or to the bridge in front of it."""
    streams: list[BleStream] = []

    def lost() -> None:
        for stream in streams:
            stream.ended()

    async with connected(name, bridge.service, lost, advertised=bridge.advertised) as client:
        for number in (bridge.to_launcher, bridge.to_host):
            if client.services.get_characteristic(number) is None:
                raise unreachable(name, f"it does not offer the launcher's service ({number})")
        stream = BleStream(client, bridge)
        streams.append(stream)
        await stream.listen()
        yield stream


def _require_asyncio() -> None:
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        raise LauncherError(
            NO_BLUETOOTH.report(
                "Bluetooth needs the asyncio event loop",
                help="this is a fault of the program that called the driver; please report it",
                device="ble:",
            )
        ) from None


def unreachable(name: str, why: str) -> LauncherError:
    """The error for a device that was heard and not reached."""
    return LauncherError(
        NO_SUCH_LAUNCHER.report(
            f"step connect: the launcher was seen and the connection failed: {why}",
            help="come nearer, end other programs that hold it, and try again",
            device=f"ble:{name}",
        )
    )


@contextlib.asynccontextmanager
async def connect(address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
    """Opens a launcher over Bluetooth LE: ``NAME``, or ``NAME@BRIDGE.toml``."""
    name, bridge = split_address(address)
    async with (
        radio_link(name, bridge) as radio,
        transport_tap(bridged(radio, bridge), options.capture) as stream,
        open_launcher(stream, options, f"ble:{name}") as launcher,
    ):
        yield launcher
