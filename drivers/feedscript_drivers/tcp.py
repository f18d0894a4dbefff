"""``tcp:HOST:PORT``: the wire over a network. Such a link is not a cable: it needs the key."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import AsyncIterator

import anyio
from anyio.abc import ByteStream

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript_drivers.byte_door import byte_door
from feedscript_drivers.pages import ADDRESS, NO_SUCH_LAUNCHER
from feedscript_drivers.wire_launcher import open_launcher

_CONNECT_S = 5.0


def parse_address(address: str) -> tuple[str, int]:
    """HOST:PORT. Raises LauncherError for anything else."""
    host, _, port = address.rpartition(":")
    if not host or not port.isdecimal() or not 0 < int(port) < 65536:
        raise LauncherError(
            ADDRESS.report(
                f"{address!r} is not a host and a port",
                help="write tcp:HOST:PORT, for instance tcp:192.0.2.7:7878",
                device=f"tcp:{address}",
            )
        )
    return host.strip("[]"), int(port)


async def open_stream(address: str) -> ByteStream:
    """A connection to HOST:PORT. Raises LauncherError."""
    host, port = parse_address(address)
    try:
        with anyio.fail_after(_CONNECT_S):
            wire = await anyio.connect_tcp(host, port)
    except (OSError, TimeoutError) as error:
        raise LauncherError(
            NO_SUCH_LAUNCHER.report(
                f"no connection: {error or 'no answer'}",
                help="is the launcher on and in this network, and is that its port?",
                device=f"tcp:{address}",
            )
        ) from error
    # Short lines must not wait for each other to fill a packet.
    raw: socket.socket = wire.extra(anyio.abc.SocketAttribute.raw_socket)
    raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return wire


@contextlib.asynccontextmanager
async def connect(address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
    """Opens a launcher over TCP."""
    async with (
        byte_door(await open_stream(address), options.capture) as stream,
        open_launcher(stream, options, f"tcp:{address}") as launcher,
    ):
        yield launcher
