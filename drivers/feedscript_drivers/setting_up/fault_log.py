"""What a launcher remembers of its last faults and unclean starts, asked of it in plain.

Nothing is opened and nothing changes: whoever has the launcher goes on having it. What a radio or a
network says in plain proves nothing, so this is for reading, and for reports of trouble.
"""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator
from typing import Final

import anyio
from anyio.abc import ByteStream

from feedscript.launcher.fault_log import FaultLog, LoggedFault
from feedscript.launcher.port import LauncherError
from feedscript_drivers.pages import ADDRESS, LAUNCHER_REFUSED
from feedscript_drivers.transports import tcp
from feedscript_drivers.transports.bridge import bridged, split_address
from feedscript_drivers.transports.serial_port import (
    SerialStream,
    open_port,
    parse_address,
    split_trust,
)
from feedscript_drivers.wire.link import Link
from feedscript_drivers.wire.messages import Reply
from feedscript_drivers.wire.one_error import one_error
from feedscript_drivers.wire.protocol import LOG_START, VERSION, Code, FaultKind, spelled
from feedscript_drivers.wire.refused import refusal
from feedscript_drivers.wire.trust import Trust

_BAUD: Final = 115_200
_HELLO_AGAIN_S: Final = 0.3
#: Causes of a start as the wire numbers them; 0, power, is not kept.
_STARTS: Final = {1: "reset", 2: "brown-out", 3: "watchdog"}


async def read_fault_log(url: str) -> FaultLog:
    """Everything that the launcher at this address remembers, the newest first.

    Raises LauncherError. ``rows`` is None where the launcher keeps no log.
    """
    with one_error():
        async with _stream(url) as stream, anyio.create_task_group() as tasks:
            link = Link(stream, url, first_sequence=0)
            tasks.start_soon(link.read)
            await link.command("HELLO", VERSION, VERSION, again_s=_HELLO_AGAIN_S)
            who = await link.command("WHO")
            log = FaultLog(launcher=" ".join(reversed(who.arguments)), rows=await _rows(link))
            tasks.cancel_scope.cancel()
    return log


@contextlib.asynccontextmanager
async def _stream(url: str) -> AsyncIterator[ByteStream]:
    """Its bytes, by whatever carries them."""
    scheme, _, address = url.partition(":")
    match scheme:
        case "serial":
            device, baud = parse_address(split_trust(address, Trust.CABLE)[0], _BAUD)
            async with SerialStream(open_port(device, baud, raise_dtr=False)) as wire:
                yield wire
        case "tcp":
            place, bridge = split_address(address)
            async with await tcp.open_stream(place.removesuffix(tcp.UNKEYED)) as wire:
                yield bridged(wire, bridge)
        case "ble":
            from feedscript_drivers.transports import ble

            name, bridge = split_address(address)
            async with ble.radio_link(name, bridge) as radio:
                yield bridged(radio, bridge)
        case _:
            raise LauncherError(
                ADDRESS.report(
                    f"{url!r} is no launcher that keeps a log of its faults",
                    help="write serial:DEVICE, tcp:HOST:PORT or ble:NAME",
                    device=url,
                )
            )


async def _rows(link: Link) -> tuple[LoggedFault, ...] | None:
    rows: list[LoggedFault] = []
    while True:
        reply = await link.command("LOG", len(rows))
        if reply.code is None:
            rows.append(_row(link, reply))
        elif reply.code == Code.NOT_KEPT:
            return tuple(rows)
        elif reply.code in (Code.UNKNOWN_WORD, Code.NOT_CAPABLE):
            return None
        else:
            raise _refused(link, f"LOG was refused: {refusal(reply)}")


def _row(link: Link, reply: Reply) -> LoggedFault:
    try:
        boot, second, what, detail = map(int, reply.arguments)
    except ValueError:
        raise _refused(link, f"the answer to LOG cannot be read; {link.last_bytes()}") from None
    return LoggedFault(
        boot=boot, second=second, kind=_kind(what), detail="" if detail == 0 else str(detail)
    )


def _kind(what: int) -> str:
    if what >= LOG_START:
        return _STARTS.get(what - LOG_START, f"start {what - LOG_START}")
    try:
        return spelled(FaultKind(what))
    except ValueError:
        return f"fault {what}"


def _refused(link: Link, message: str) -> LauncherError:
    return LauncherError(
        LAUNCHER_REFUSED.report(
            message,
            help="load the firmware that came with this feedscript",
            device=link.device,
        )
    )
