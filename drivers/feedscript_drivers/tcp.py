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
                f"step connect: {_reason(error)}",
                help="is the launcher on and in this network, and is that its port?",
                device=f"tcp:{address}",
            )
        ) from error
    # Short lines must not wait for each other to fill a packet.
    raw: socket.socket = wire.extra(anyio.abc.SocketAttribute.raw_socket)
    raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return wire


def _reason(error: BaseException) -> str:
    """The system's own words for the last address that was tried."""
    if isinstance(error, TimeoutError):
        return f"no answer in {_CONNECT_S:g} s"
    tried = error.__cause__
    if isinstance(tried, BaseExceptionGroup):
        tried = tried.exceptions[-1]
    known = tried if isinstance(tried, OSError) else error
    return getattr(known, "strerror", None) or str(known)


@contextlib.asynccontextmanager
async def connect(address: str, options: ConnectOptions) -> AsyncIterator[LauncherPort]:
    """Opens a launcher over TCP."""
    async with (
        await open_stream(address) as wire,
        byte_door(wire, options.capture) as stream,
        open_launcher(stream, options, f"tcp:{address}") as launcher,
    ):
        yield launcher
