"""A stand-in for the Linux Bluetooth service on a private D-Bus, with bumble behind it.

bleak's own Linux backend then runs unchanged: bleak, D-Bus, this, bumble, the virtual air. Only
what bleak asks for is here: one adapter, devices as they are heard, their GATT objects.
"""

# No `from __future__ import annotations`: dbus-fast reads the annotations as D-Bus signatures.

import asyncio
import contextlib
import os
import tempfile
from collections.abc import AsyncIterator, Awaitable
from pathlib import Path
from typing import Annotated, Any, TypeVar
from unittest import mock

from bleak.assigned_numbers import gatt_char_props_to_strs
from bleak.uuids import normalize_uuid_str
from bumble import att, hci
from bumble.core import AdvertisingData, BaseBumbleError
from bumble.device import Device, Peer
from dbus_fast import BusType, DBusError, PropertyAccess
from dbus_fast.aio import MessageBus
from dbus_fast.annotations import (
    DBusBool,
    DBusBytes,
    DBusDict,
    DBusInt16,
    DBusObjectPath,
    DBusSignature,
    DBusStr,
    DBusUInt16,
)
from dbus_fast.service import ServiceInterface, dbus_method, dbus_property

from tests.drivers.virtual_ble.bleak_backend import advertised_services
from tests.drivers.virtual_ble.central import MTU, connection_preferences

T = TypeVar("T")
Texts = Annotated[list[str], DBusSignature("as")]
_READ = PropertyAccess.READ
_ADAPTER = "/org/bluez/hci0"
_ERROR = "org.bluez.Error."
_CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><type>session</type><listen>unix:tmpdir={folder}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow send_destination="*" eavesdrop="true"/>
<allow eavesdrop="true"/><allow own="*"/></policy></busconfig>"""


async def _as_service(operation: Awaitable[T]) -> T:
    """Bumble's failures as the D-Bus errors that the real service reports."""
    try:
        return await operation
    except att.ATT_Error as error:
        raise DBusError(f"{_ERROR}Failed", f"ATT error: 0x{int(error.error_code):02x}") from error
    except asyncio.CancelledError:
        task = asyncio.current_task()
        if task is not None and task.cancelling():
            raise
        raise DBusError(f"{_ERROR}Failed", "Not connected") from None
    except BaseBumbleError as error:
        raise DBusError(f"{_ERROR}Failed", f"{type(error).__name__}: {error}") from error


class Adapter(ServiceInterface):
    """The one adapter; what it hears becomes devices."""

    def __init__(self, bus: MessageBus, host: Device) -> None:
        super().__init__("org.bluez.Adapter1")
        self.bus, self.host = bus, host
        self.devices: dict[str, RemoteDevice] = {}

    @dbus_property(access=_READ)
    def Powered(self) -> DBusBool:  # noqa: N802 - D-Bus names
        return True

    @dbus_property(access=_READ)
    def Address(self) -> DBusStr:  # noqa: N802
        return str(self.host.random_address)[:17]

    @dbus_property(access=_READ)
    def Roles(self) -> Texts:  # noqa: N802
        return ["central"]

    @dbus_method()
    def SetDiscoveryFilter(self, filter: DBusDict) -> None:  # noqa: N802, A002
        """Everything is reported; bleak filters once more."""

    @dbus_method()
    async def StartDiscovery(self) -> None:  # noqa: N802
        self.host.on("advertisement", self._hear)
        await self.host.start_scanning()

    @dbus_method()
    async def StopDiscovery(self) -> None:  # noqa: N802
        self.host.remove_listener("advertisement", self._hear)
        await self.host.stop_scanning()

    @dbus_method()
    async def RemoveDevice(self, path: DBusObjectPath) -> None:  # noqa: N802
        device = self.devices.pop(path, None)
        if device is None:
            raise DBusError(f"{_ERROR}DoesNotExist", "Does Not Exist")
        if device.connection:
            await device.connection.disconnect()
        self.bus.unexport(path)

    def _hear(self, advertisement: Any) -> None:
        mac = advertisement.address.to_string(False)
        path = f"{_ADAPTER}/dev_{mac.replace(':', '_')}"
        device = self.devices.get(path)
        if device is None:
            device = self.devices[path] = RemoteDevice(self, path, advertisement)
            self.bus.export(path, device)
        else:
            device.emit_properties_changed({"RSSI": advertisement.rssi})


class RemoteDevice(ServiceInterface):
    """One launcher that was heard."""

    def __init__(self, adapter: Adapter, path: str, advertisement: Any) -> None:
        super().__init__("org.bluez.Device1")
        self.adapter, self.path = adapter, path
        self.target = advertisement.address
        self.mac = str(advertisement.address.to_string(False))
        self.alias: str = advertisement.data.get(AdvertisingData.COMPLETE_LOCAL_NAME) or self.mac
        self.services = advertised_services(advertisement.data)
        self.rssi = int(advertisement.rssi)
        self.connection: Any = None
        self.paired = self.trusted = self.resolved = False
        self.objects: list[str] = []

    @dbus_property(access=_READ)
    def Address(self) -> DBusStr:  # noqa: N802
        return self.mac

    @dbus_property(access=_READ)
    def AddressType(self) -> DBusStr:  # noqa: N802
        return "random"

    @dbus_property(access=_READ)
    def Name(self) -> DBusStr:  # noqa: N802
        return self.alias

    @dbus_property(access=_READ)
    def Alias(self) -> DBusStr:  # noqa: N802
        return self.alias

    @dbus_property(access=_READ)
    def Adapter(self) -> DBusObjectPath:  # noqa: N802
        return _ADAPTER

    @dbus_property(access=_READ)
    def RSSI(self) -> DBusInt16:  # noqa: N802
        return self.rssi

    @dbus_property(access=_READ)
    def UUIDs(self) -> Texts:  # noqa: N802
        return self.services

    @dbus_property(access=_READ)
    def Paired(self) -> DBusBool:  # noqa: N802
        return self.paired

    @dbus_property(access=_READ)
    def Connected(self) -> DBusBool:  # noqa: N802
        return self.connection is not None

    @dbus_property(access=_READ)
    def ServicesResolved(self) -> DBusBool:  # noqa: N802
        return self.resolved

    @dbus_property()
    def Trusted(self) -> DBusBool:  # noqa: N802
        return self.trusted

    @Trusted.setter  # type: ignore[no-redef]
    def Trusted(self, value: DBusBool) -> None:  # noqa: N802
        self.trusted = value

    @dbus_method()
    async def Connect(self) -> None:  # noqa: N802
        await self._connect()

    @dbus_method()
    async def Pair(self) -> None:  # noqa: N802
        if self.connection is None:
            await self._connect()
        try:
            await _as_service(self.connection.pair())
        except DBusError as error:
            raise DBusError(f"{_ERROR}AuthenticationFailed", error.text) from error
        self.paired = True
        self.emit_properties_changed({"Paired": True})

    @dbus_method()
    async def Disconnect(self) -> None:  # noqa: N802
        if self.connection:
            await self.connection.disconnect()

    async def _connect(self) -> None:
        preferences = {hci.HCI_LE_1M_PHY: connection_preferences()}
        connecting = self.adapter.host.connect_le(self.target, preferences, timeout=10)
        self.connection = await _as_service(connecting)
        self.connection.on(self.connection.EVENT_DISCONNECTION, self._gone)
        self.emit_properties_changed({"Connected": True})
        try:
            await self._resolve(Peer(self.connection))
        except BaseException:
            if self.connection:
                await self.connection.disconnect()
            raise
        self.resolved = True
        self.emit_properties_changed({"ServicesResolved": True})

    async def _resolve(self, peer: Peer) -> None:
        mtu = await _as_service(peer.request_mtu(MTU))
        for service in await _as_service(peer.discover_services()):
            path = f"{self.path}/service{service.handle:04x}"
            self._export(path, RemoteService(service, self.path))
            for each in await _as_service(service.discover_characteristics()):
                self._export(f"{path}/char{each.handle:04x}", RemoteCharacteristic(each, path, mtu))

    def _export(self, path: str, interface: ServiceInterface) -> None:
        self.objects.append(path)
        self.adapter.bus.export(path, interface)

    def _gone(self, _reason: int) -> None:
        self.connection, self.resolved = None, False
        self.emit_properties_changed({"ServicesResolved": False})
        self.emit_properties_changed({"Connected": False})
        for path in reversed(self.objects):
            self.adapter.bus.unexport(path)
        self.objects.clear()


class RemoteService(ServiceInterface):
    """A GATT service of a connected launcher."""

    def __init__(self, service: Any, device: str) -> None:
        super().__init__("org.bluez.GattService1")
        self.service, self.device = service, device

    @dbus_property(access=_READ)
    def UUID(self) -> DBusStr:  # noqa: N802
        return _uuid(self.service.uuid)

    @dbus_property(access=_READ)
    def Primary(self) -> DBusBool:  # noqa: N802
        return True

    @dbus_property(access=_READ)
    def Device(self) -> DBusObjectPath:  # noqa: N802
        return self.device


class RemoteCharacteristic(ServiceInterface):
    """A GATT characteristic of a connected launcher."""

    def __init__(self, characteristic: Any, service: str, mtu: int) -> None:
        super().__init__("org.bluez.GattCharacteristic1")
        self.characteristic, self.service, self.mtu = characteristic, service, mtu

    @dbus_property(access=_READ)
    def UUID(self) -> DBusStr:  # noqa: N802
        return _uuid(self.characteristic.uuid)

    @dbus_property(access=_READ)
    def Service(self) -> DBusObjectPath:  # noqa: N802
        return self.service

    @dbus_property(access=_READ)
    def Flags(self) -> Texts:  # noqa: N802
        return sorted(gatt_char_props_to_strs(int(self.characteristic.properties)))

    @dbus_property(access=_READ)
    def MTU(self) -> DBusUInt16:  # noqa: N802
        return self.mtu

    @dbus_property(access=_READ)
    def Value(self) -> DBusBytes:  # noqa: N802
        return b""

    @dbus_method()
    async def WriteValue(self, value: DBusBytes, options: DBusDict) -> None:  # noqa: N802
        acknowledged = options["type"].value == "request"
        if not acknowledged and len(value) > self.mtu - 3:
            raise DBusError(f"{_ERROR}Failed", "Failed to initiate write")
        writing = self.characteristic.write_value(bytes(value), with_response=acknowledged)
        await _as_service(writing)

    @dbus_method()
    async def StartNotify(self) -> None:  # noqa: N802
        await _as_service(self.characteristic.subscribe(self._notified))

    @dbus_method()
    async def StopNotify(self) -> None:  # noqa: N802
        await _as_service(self.characteristic.unsubscribe(self._notified))

    def _notified(self, value: bytes) -> None:
        self.emit_properties_changed({"Value": bytes(value)})


def _uuid(uuid: Any) -> str:
    return str(normalize_uuid_str(uuid.to_hex_str("-")))


@contextlib.asynccontextmanager
async def bluetooth_service(host: Device) -> AsyncIterator[str]:
    """A private bus with the stand-in on it; yields the bus's address.

    Inside the block this process's own bleak finds it as the system bus.
    """
    with tempfile.TemporaryDirectory() as folder:
        config = Path(folder) / "bus.conf"
        config.write_text(_CONFIG.format(folder=folder), encoding="ascii")
        daemon = await asyncio.create_subprocess_exec(
            "dbus-daemon",
            f"--config-file={config}",
            "--nofork",
            "--print-address=1",
            stderr=asyncio.subprocess.DEVNULL,
            stdout=asyncio.subprocess.PIPE,
            start_new_session=True,  # Ctrl-C in the terminal ends us, and we end the bus
        )
        assert daemon.stdout is not None
        address = (await daemon.stdout.readline()).decode("ascii").strip()
        try:
            with mock.patch.dict(os.environ, DBUS_SYSTEM_BUS_ADDRESS=address):
                bus = await MessageBus(bus_type=BusType.SYSTEM).connect()
                bus.export(_ADAPTER, Adapter(bus, host))
                await bus.request_name("org.bluez")
                yield address
                bus.disconnect()
        finally:
            with contextlib.suppress(ProcessLookupError):  # somebody else ended it
                daemon.terminate()
            await daemon.wait()
