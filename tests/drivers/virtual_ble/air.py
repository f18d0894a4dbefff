"""The virtual radio: bumble's local link, and what it lacks to lose a node."""

from __future__ import annotations

import asyncio
from typing import Any

from bumble import hci
from bumble.controller import Controller
from bumble.device import Device, DeviceConfiguration
from bumble.link import LocalLink


class Air(LocalLink):
    """Controllers on one link. A node that vanished neither hears nor is heard."""

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._controller_of: dict[int, Controller] = {}

    def node(self, name: str, address: str) -> Device:
        """A host and its controller."""
        controller = Controller(name, link=self)
        config = DeviceConfiguration(name=name, address=hci.Address(address))
        device = Device.from_config_with_hci(config, controller, controller)
        self._controller_of[id(device)] = controller
        return device

    def vanish(self, device: Device, supervision_timeout_s: float) -> None:
        """The node's power is cut: nobody is told, its peer notices after its timeout."""
        gone: Any = self._controller_of[id(device)]
        self.remove_controller(gone)
        for advertiser in [gone.le_legacy_advertiser, *gone.advertising_sets.values()]:
            advertiser.stop()
        loop = asyncio.get_running_loop()
        for peer in self.controllers:
            for connection in list(peer.le_connections.values()):
                if self.find_le_controller(connection.peer_address) is None:
                    loop.call_later(supervision_timeout_s, _time_out, peer, connection)

    # A removed controller goes on by itself and would still be heard.

    def send_advertising_pdu(self, sender_controller: Controller, packet: Any) -> None:
        if sender_controller in self.controllers:
            super().send_advertising_pdu(sender_controller, packet)

    def send_acl_data(self, sender_controller: Controller, *args: Any) -> None:
        if sender_controller in self.controllers:
            super().send_acl_data(sender_controller, *args)

    def send_ll_control_pdu(self, sender_address: Any, receiver_address: Any, packet: Any) -> None:
        if self.find_le_controller(receiver_address) is not None:
            super().send_ll_control_pdu(sender_address, receiver_address, packet)


def _time_out(peer: Any, connection: Any) -> None:
    if peer.le_connections.get(connection.peer_address) is connection:
        peer.on_le_disconnected(connection, hci.HCI_ErrorCode.CONNECTION_TIMEOUT_ERROR)
