"""``tcp:HOST:PORT``: the wire over a network. Such a link is not a cable: it needs the key.

``tcp:127.0.0.1:PORT@unkeyed`` for a stand-in on this machine that was started without one.
"""

from __future__ import annotations

import contextlib
import ipaddress
import socket
from collections.abc import AsyncIterator

import anyio
from anyio.abc import ByteStream, SocketStream

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript_drivers.pages import ADDRESS, KEY_DOWNGRADE, NO_SUCH_LAUNCHER
from feedscript_drivers.transports.bridge import bridged, split_address
from feedscript_drivers.transports.tap import transport_tap
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import open_launcher

_CONNECT_S = 5.0
UNKEYED = "@unkeyed"


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


async def open_stream(address: str, *, here_only: bool = False) -> ByteStream:
    """A connection to HOST:PORT. Raises LauncherError, also where it leads to another machine and
    ``here_only`` says that its lines are those of nobody in particular."""
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
    if here_only and not _is_here(wire):
        await wire.aclose()
        raise _elsewhere(address)
    # Short lines must not wait for each other to fill a packet.
    raw: socket.socket = wire.extra(anyio.abc.SocketAttribute.raw_socket)
    raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return wire


def _is_here(wire: SocketStream) -> bool:
    """Whether the other end is on this machine."""
    host: str = wire.extra(anyio.abc.SocketAttribute.remote_address)[0]
    return ipaddress.ip_address(host.partition("%")[0]).is_loopback


def _elsewhere(address: str) -> LauncherError:
    return LauncherError(
        KEY_DOWNGRADE.report(
            "step connect: lines without a key are believed on this machine only, and this "
            "address leads off it",
            help="pair the launcher over its own cable with `feedscript pair --on serial:DEVICE`, "
            "or use the cable",
            device=f"tcp:{address}",
        )
    )


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
    """Opens a launcher over TCP: ``HOST:PORT``, or ``HOST:PORT@BRIDGE.toml``."""
    place, bridge = split_address(address)
    where = place.removesuffix(UNKEYED)
    unkeyed = where != place
    trust = Trust.PLAIN if unkeyed else Trust.KEYED
    async with (
        await open_stream(where, here_only=unkeyed) as wire,
        transport_tap(bridged(wire, bridge), options.capture) as stream,
        open_launcher(stream, options, f"tcp:{where}", trust=trust) as launcher,
    ):
        yield launcher
