"""A lesson that only remembers what it was told, for testing the page's walls without balls.

The page against the real engine is tested in ``test_lesson_from_a_phone.py``.
"""

from __future__ import annotations

from collections.abc import AsyncIterator

import anyio
import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.port import LauncherState
from feedscript.session.commands import Command
from feedscript.session.state import (
    CountView,
    LauncherView,
    Offer,
    PlayerView,
    Private,
    State,
)
from feedscript.session.states import Act, Phase


def a_state(revision: int = 1) -> State:
    """A running lesson with something private in it."""
    return State(
        revision=revision,
        utc_s=1_800_000_000.0,
        phase=Phase.RUNNING,
        allowed=(Act.HOLD, Act.NEXT, Act.STOP, Act.EMERGENCY_STOP),
        title="Invented lesson",
        rehearsal=True,
        waits_for="",
        set_up=(),
        launchers=(
            LauncherView(
                name="main",
                state=LauncherState.ARMED,
                linked=True,
                reason="",
                queued=1,
                hopper_balls=40,
                wants_code=False,
                mouth_m=(0.0, -12.9),
            ),
        ),
        balls_left=3,
        balls_planned=(40, 40),
        lesson_s=12.0,
        planned_s=(200.0, 240.0),
        pace=1.0,
        coming=(),
        gone=(),
        asked_about=(),
        places=(),
        next_up=("Birch",),
        players=(PlayerView(name="Ash", left_handed=False, here=True, turns=1, balls=3),),
        calls=(),
        count_in_s=None,
        troubles=(),
        ending=None,
        private=Private(
            counts=(CountView(player="Ash", balls=3, by_result={}, share_in=None),),
            offer=Offer(number=1, player="Ash", noticed="net twice", question="PRIVATE QUESTION?"),
        ),
    )


class RememberingLesson:
    """Accepts every command and writes it down."""

    def __init__(self) -> None:
        self.told: list[tuple[Command, str]] = []
        self._state = a_state()
        self._changed = anyio.Event()

    @property
    def state(self) -> State:
        return self._state

    def change(self) -> None:
        """Something happened."""
        self._state = msgspec.structs.replace(self._state, revision=self._state.revision + 1)
        self._changed.set()
        self._changed = anyio.Event()

    async def states(self) -> AsyncIterator[State]:
        while True:
            yield self._state
            await self._changed.wait()

    async def command(self, command: Command, by: str = "terminal") -> Diagnostic | None:
        self.told.append((command, by))
        return None
