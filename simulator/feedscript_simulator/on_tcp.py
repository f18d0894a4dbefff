"""The stand-in on a TCP port of this machine: a launcher on the network, one host at a time."""

from __future__ import annotations

import contextlib
import math
import socket
from collections.abc import AsyncIterator

import anyio
from anyio.abc import SocketStream
from anyio.streams.memory import MemoryObjectReceiveStream

from feedscript_simulator.driven import Driven
from feedscript_simulator.stand_in import StandIn


@contextlib.asynccontextmanager
async def on_tcp(stand_in: StandIn, port: int) -> AsyncIterator[str]:
    """Serve on 127.0.0.1; port 0 takes a free one. Yields HOST:PORT."""
    arrived, arriving = anyio.create_memory_object_stream[bytes](math.inf)
    driven = Driven(stand_in, arrived.send_nowait)
    listener = await anyio.create_tcp_listener(local_host="127.0.0.1", local_port=port)
    taken = anyio.Lock()

    async def serve(stream: SocketStream) -> None:
        raw: socket.socket = stream.extra(anyio.abc.SocketAttribute.raw_socket)
        raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        async with stream, taken, anyio.create_task_group() as tasks:
            tasks.start_soon(_write, stream, arriving)
            with contextlib.suppress(anyio.EndOfStream, anyio.BrokenResourceError):
                while True:
                    driven.receive(await stream.receive())
            tasks.cancel_scope.cancel()

    async with listener, arrived, arriving, anyio.create_task_group() as tasks:
        tasks.start_soon(driven.keep_time)
        tasks.start_soon(listener.serve, serve)
        where = listener.extra(anyio.abc.SocketAttribute.local_address)
        yield f"127.0.0.1:{where[1]}"
        tasks.cancel_scope.cancel()


async def _write(stream: SocketStream, arriving: MemoryObjectReceiveStream[bytes]) -> None:
    with contextlib.suppress(anyio.BrokenResourceError, anyio.ClosedResourceError):
        async for data in arriving:
            await stream.send(data)
