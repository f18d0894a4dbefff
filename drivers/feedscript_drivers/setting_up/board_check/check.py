"""``board-check``: every step in turn, each with what it found; nothing hangs on the one before."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Sequence

import anyio
from anyio.abc import ByteStream

from feedscript.launcher.port import LauncherError
from feedscript_drivers.pages import ADDRESS
from feedscript_drivers.setting_up.board_check.by_hand import BY_HAND
from feedscript_drivers.setting_up.board_check.by_wire import BY_WIRE
from feedscript_drivers.setting_up.board_check.host import BoardHost, Wrong
from feedscript_drivers.setting_up.board_check.steps import Bench, Found, Person, Step
from feedscript_drivers.transports.serial_port import SerialStream, open_port, parse_address

STEPS = (*BY_WIRE, *BY_HAND)
_BAUD = 115_200
_STARTS_S = 2.5  # a board that the opening has reset is ready by then


async def check_board(
    stream: ByteStream, person: Person, steps: Sequence[Step] = STEPS
) -> AsyncIterator[Found]:
    """Every step on a board whose wheels have no power, with somebody beside it.

    Afterwards the board is disarmed. A board that does not even greet is not asked further.
    """
    host = BoardHost(stream)
    bench = Bench(host, person)
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(host.read)
        tasks.start_soon(host.beat)
        for step in steps:
            found = await _try(step, bench)
            yield found
            if not found.fine and step is STEPS[0]:
                break
        tasks.cancel_scope.cancel()


async def _try(step: Step, bench: Bench) -> Found:
    try:
        figure = await step.trial(bench)
    except Wrong as wrong:
        return Found(step.name, str(wrong), False, step.help)
    finally:
        bench.host.speaks = True
    return Found(step.name, figure, True)


@contextlib.asynccontextmanager
async def board_at(url: str) -> AsyncIterator[ByteStream]:
    """The line to a board at its cable, serial:DEVICE[@BAUD]. Raises LauncherError."""
    scheme, _, address = url.partition(":")
    if scheme != "serial":
        raise _not_at_its_cable(url)
    device, baud = parse_address(address, _BAUD)
    async with SerialStream(open_port(device, baud, raise_dtr=True)) as stream:
        await anyio.sleep(_STARTS_S)
        yield stream


def _not_at_its_cable(url: str) -> LauncherError:
    """A board is checked by the person beside it, at its own cable."""
    return LauncherError(
        ADDRESS.report(
            f"{url!r} is not a board at its cable",
            help="write serial:DEVICE; `feedscript find` lists the ports there are",
            device=url,
        )
    )
