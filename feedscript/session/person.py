"""The person who says yes: confirms what a coach would, for scripts and rehearsals.

What this person never does is act at the launcher: arming stays an act there (in rehearsal, of the
stand-in's own simulated person).
"""

from __future__ import annotations

from collections.abc import Callable

import anyio

from feedscript.session.commands import Command, Confirm, Do
from feedscript.session.controller import Controller
from feedscript.session.state import State
from feedscript.session.states import Act, Phase

_SAYS: dict[Phase, Act] = {
    Phase.SHOWING: Act.CLEAR,
    Phase.JUDGING: Act.SEEN,
    Phase.READY: Act.GO_ON,
    Phase.COLLECTING: Act.COLLECTED,
}


def says(state: State) -> Command | None:
    """What an obliging person says to this state, if anything."""
    if state.phase is Phase.SETTING_UP:
        for step in state.set_up:
            if not step.confirmed:
                return Confirm(key=step.key)
    act = _SAYS.get(state.phase)
    return None if act is None else Do(act=act)


async def oblige(
    lesson: Controller, after_s: float = 0.0, heard: Callable[[State], None] | None = None
) -> None:
    """Say yes to whatever a lesson waits for, so long after it began to wait, until it ends."""
    async for state in lesson.states():
        if heard is not None:
            heard(state)
        command = says(state)
        if command is None:
            continue
        await anyio.sleep(after_s)
        if lesson.state.phase is state.phase:
            await lesson.command(command, by="script")
