"""The stand-in on a TCP port of this machine: a launcher on the network."""

from __future__ import annotations

import contextlib
import itertools
import socket
from collections.abc import AsyncIterator

import anyio
from anyio.abc import SocketStream
from anyio.streams.memory import MemoryObjectReceiveStream

from feedscript_simulator.faults import SOUND, LineFaults
from feedscript_simulator.links.callers import Caller, Callers
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.faulty_line import one_way
from feedscript_simulator.stand_in import StandIn

#: Lines that may wait for a caller who does not read; one more ends the connection.
_UNREAD = 256


@contextlib.asynccontextmanager
async def on_tcp(stand_in: StandIn, port: int, faults: LineFaults = SOUND) -> AsyncIterator[str]:
    """Serve on 127.0.0.1, each caller over a line with these faults; port 0 takes a free one.
    Yields HOST:PORT."""
    driven = Driven(stand_in, lambda _bytes: None)
    callers = Callers(driven.receive, lambda: stand_in.end.obeyed)
    driven.on_output = callers.answer
    numbers = itertools.count(1)
    listener = await anyio.create_tcp_listener(local_host="127.0.0.1", local_port=port)

    async def serve(stream: SocketStream) -> None:
        raw: socket.socket = stream.extra(anyio.abc.SocketAttribute.raw_socket)
        raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        with contextlib.suppress(anyio.EndOfStream, anyio.BrokenResourceError):
            async with stream:
                await _serve(stream, callers, faults, f"{stand_in.seed} {next(numbers)}")

    async with listener, anyio.create_task_group() as tasks:
        tasks.start_soon(driven.keep_time)
        tasks.start_soon(listener.serve, serve)
        where = listener.extra(anyio.abc.SocketAttribute.local_address)
        yield f"127.0.0.1:{where[1]}"
        tasks.cancel_scope.cancel()


async def _serve(stream: SocketStream, callers: Callers, faults: LineFaults, seed: str) -> None:
    """One caller, until it goes, is closed, or does not read what it is told."""
    said, telling = anyio.create_memory_object_stream[bytes](_UNREAD)
    caller: Caller
    async with (
        said,
        telling,
        anyio.create_task_group() as tasks,
        one_way(lambda data: callers.say(caller, data), faults, f"out {seed}") as hear,
    ):

        def send(line: bytes) -> None:
            try:
                said.send_nowait(line)
            except (anyio.WouldBlock, anyio.ClosedResourceError):
                tasks.cancel_scope.cancel()

        async with one_way(send, faults, f"back {seed}") as tell:
            caller = Caller(tell, tasks.cancel_scope.cancel)
            callers.come(caller)
            try:
                tasks.start_soon(_write, stream, telling)
                while True:
                    hear(await stream.receive())
            except (anyio.EndOfStream, anyio.BrokenResourceError, anyio.ClosedResourceError):
                tasks.cancel_scope.cancel()  # it went, in order or by a reset
            finally:
                callers.go(caller)


async def _write(stream: SocketStream, telling: MemoryObjectReceiveStream[bytes]) -> None:
    with contextlib.suppress(anyio.BrokenResourceError, anyio.ClosedResourceError):
        async for line in telling:
            await stream.send(line)
