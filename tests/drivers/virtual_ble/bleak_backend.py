"""A bleak backend on bumble: unmodified bleak code reaches the virtual air."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable, Iterator
from typing import Any, ClassVar, TypeVar
from unittest import mock

from bleak.assigned_numbers import gatt_char_props_to_strs
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.descriptor import BleakGATTDescriptor
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakDeviceNotFoundError, BleakError, BleakGATTProtocolError
from bleak.uuids import normalize_uuid_str
from bumble import att, hci
from bumble.core import AdvertisingData, BaseBumbleError
from bumble.device import Device, Peer

from tests.drivers.virtual_ble.central import MTU, connection_preferences

T = TypeVar("T")
_BLEAK = "bleak.get_platform"


@contextlib.contextmanager
def bleak_on(device: Device) -> Iterator[None]:
    """Inside the block bleak's default backend is this one, over ``device``."""
    with (
        mock.patch.object(Host, "device", device),
        mock.patch(f"{_BLEAK}_scanner_backend_type", return_value=(Scanner, "bumble")),
        mock.patch(f"{_BLEAK}_client_backend_type", return_value=(Client, "bumble")),
    ):
        yield


class Host:
    """Which central the backend talks through."""

    device: ClassVar[Any] = None


def advertised_services(data: AdvertisingData) -> list[str]:
    """The 128-bit services that an advertisement names."""
    kinds = (
        AdvertisingData.COMPLETE_LIST_OF_128_BIT_SERVICE_CLASS_UUIDS,
        AdvertisingData.INCOMPLETE_LIST_OF_128_BIT_SERVICE_CLASS_UUIDS,
    )
    named: list[Any] = []
    for kind in kinds:
        found: Any = data.get(kind)
        named += found or []
    return [str(normalize_uuid_str(uuid.to_hex_str("-"))) for uuid in named]


class Scanner(BaseBleakScanner):
    """Advertisements of the virtual air."""

    def __init__(
        self, detection_callback: Any, service_uuids: Any, scanning_mode: str, **_more: Any
    ) -> None:
        super().__init__(detection_callback, service_uuids)
        self._active = scanning_mode != "passive"

    async def start(self) -> None:
        self.seen_devices = {}
        Host.device.on("advertisement", self._seen)
        await Host.device.start_scanning(active=self._active)

    async def stop(self) -> None:
        Host.device.remove_listener("advertisement", self._seen)
        await Host.device.stop_scanning()

    def _seen(self, advertisement: Any) -> None:
        data = advertisement.data
        services = advertised_services(data)
        name = data.get(AdvertisingData.COMPLETE_LOCAL_NAME)
        seen = AdvertisementData(name, {}, {}, services, None, advertisement.rssi, ())
        if self.is_allowed_uuid(services):
            address = advertisement.address.to_string(False)
            device = self.create_or_update_device(
                address, address, name, advertisement.address, seen
            )
            self.call_detection_callbacks(device, seen)


class Client(BaseBleakClient):
    """A connection over the virtual air."""

    def __init__(self, address_or_ble_device: Any, *, services: Any = None, **more: Any) -> None:
        del services
        super().__init__(
            address_or_ble_device,
            disconnected_callback=more["disconnected_callback"],
            timeout=more["timeout"],
        )
        known = isinstance(address_or_ble_device, BLEDevice)
        self._target = (
            address_or_ble_device.details if known else hci.Address(address_or_ble_device)
        )
        self._connection: Any = None
        self._peer: Any = None
        self._subscribed: dict[int, Callable[[bytes], None]] = {}

    @property
    def name(self) -> str:
        return str(self.address)

    @property
    def mtu_size(self) -> int:
        return int(self._connection.att_mtu) if self._connection else 23

    @property
    def is_connected(self) -> bool:
        return self._connection is not None

    async def connect(self, pair: bool, **_more: Any) -> None:
        try:
            self._connection = await Host.device.connect_le(
                self._target,
                {hci.HCI_LE_1M_PHY: connection_preferences()},
                timeout=self._timeout,
            )
        except BaseBumbleError as error:
            raise BleakDeviceNotFoundError(self.address, str(error)) from error
        self._peer = Peer(self._connection)
        self._connection.on(self._connection.EVENT_DISCONNECTION, self._disconnected)
        try:
            if pair:
                await self.pair()
            await self._asked(self._peer.request_mtu(MTU))
            await self._asked(self._peer.discover_services())
            self.services = await self._asked(self._discover())
        except BaseException:
            await self.disconnect()
            raise

    async def _discover(self) -> BleakGATTServiceCollection:
        found = BleakGATTServiceCollection()
        for service in self._peer.services:
            known = BleakGATTService(service, service.handle, _uuid(service.uuid))
            found.add_service(known)
            for each in await service.discover_characteristics():
                characteristic = BleakGATTCharacteristic(
                    each,
                    each.handle,
                    _uuid(each.uuid),
                    list(gatt_char_props_to_strs(int(each.properties))),
                    lambda: self.mtu_size - 3,
                    known,
                )
                found.add_characteristic(characteristic)
                for descriptor in await each.discover_descriptors():
                    found.add_descriptor(
                        BleakGATTDescriptor(
                            descriptor, descriptor.handle, _uuid(descriptor.type), characteristic
                        )
                    )
        return found

    def _disconnected(self, _reason: int) -> None:
        self._connection = None
        self._subscribed.clear()
        if self._disconnected_callback:
            self._disconnected_callback()

    async def _asked(self, operation: Awaitable[T]) -> T:
        """Bumble's ways of failing as bleak's."""
        try:
            return await operation
        except att.ATT_Error as error:
            raise BleakGATTProtocolError(int(error.error_code)) from error
        except asyncio.CancelledError:
            # Bumble cancels a request that waits when the connection ends.
            task = asyncio.current_task()
            if self._connection is None and not (task and task.cancelling()):
                raise BleakError("disconnected") from None
            raise
        except BaseBumbleError as error:
            raise BleakError(f"{type(error).__name__}: {error}") from error

    def _connected(self) -> None:
        if self._connection is None:
            raise BleakError("Not connected")

    async def disconnect(self) -> None:
        if self._connection:
            await self._asked(self._connection.disconnect())

    async def pair(self, *_arguments: Any, **_more: Any) -> None:
        self._connected()
        await self._asked(self._connection.pair())

    async def unpair(self) -> None:
        await self.disconnect()

    async def read_gatt_char(self, characteristic: Any, **_more: Any) -> bytearray:
        self._connected()
        return bytearray(await self._asked(characteristic.obj.read_value()))

    async def read_gatt_descriptor(self, descriptor: Any, **_more: Any) -> bytearray:
        self._connected()
        return bytearray(await self._asked(descriptor.obj.read_value()))

    async def write_gatt_char(self, characteristic: Any, data: Any, response: bool) -> None:
        self._connected()
        data = bytes(data)
        if not response and len(data) > self.mtu_size - 3:
            raise BleakError(f"{len(data)} bytes do not fit an MTU of {self.mtu_size}")
        await self._asked(characteristic.obj.write_value(data, with_response=response))

    async def write_gatt_descriptor(self, descriptor: Any, data: Any) -> None:
        self._connected()
        await self._asked(descriptor.obj.write_value(bytes(data), with_response=True))

    async def start_notify(self, characteristic: Any, callback: Any, **_more: Any) -> None:
        self._connected()

        def notified(value: bytes) -> None:
            callback(bytearray(value))

        self._subscribed[characteristic.handle] = notified
        await self._asked(characteristic.obj.subscribe(notified))

    async def stop_notify(self, characteristic: Any) -> None:
        self._connected()
        subscriber = self._subscribed.pop(characteristic.handle, None)
        await self._asked(characteristic.obj.unsubscribe(subscriber))


def _uuid(uuid: Any) -> str:
    return str(normalize_uuid_str(uuid.to_hex_str("-")))
