"""``board-check``: every step in turn, each with what it found; nothing hangs on the one before."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence

import anyio
from anyio.abc import ByteStream

from feedscript_drivers.setting_up.board_check.by_hand import BY_HAND
from feedscript_drivers.setting_up.board_check.by_wire import BY_WIRE
from feedscript_drivers.setting_up.board_check.host import BoardHost, Wrong
from feedscript_drivers.setting_up.board_check.steps import Bench, Found, Person, Step

STEPS = (*BY_WIRE, *BY_HAND)


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
        await _disarm(host)
        tasks.cancel_scope.cancel()


async def _try(step: Step, bench: Bench) -> Found:
    try:
        figure = await step.trial(bench)
    except Wrong as wrong:
        return Found(step.name, str(wrong), False, step.help)
    finally:
        bench.host.speaks = True
    return Found(step.name, figure, True)


async def _disarm(host: BoardHost) -> None:
    """Whatever the last step left; a board that does not hear it falls silent in a second."""
    host.speaks = False
    with anyio.move_on_after(1.0):
        try:
            await host.ask("DISARM")
        except Wrong:
            return
