"""A scripted coach for the engine's tests: waits for what it can see, then says something."""

from __future__ import annotations

from collections.abc import Callable

from feedscript.diagnostics import Diagnostic
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView


async def see(engine: Engine, holds: Callable[[LessonView], bool]) -> LessonView:
    """The first state for which this holds."""
    async for state in engine.views():
        if holds(state):
            return state
    raise AssertionError(f"never seen; the lesson ended {engine.view.ending}")


async def see_balls(engine: Engine, count: int) -> LessonView:
    return await see(engine, lambda state: state.balls_left >= count)


async def see_phase(engine: Engine, phase: Phase) -> LessonView:
    """The first state whose screen says so; while a launcher still stops it says that instead."""
    return await see(engine, lambda state: state.phase is phase and not state.stopping)


async def say(engine: Engine, act: Act) -> None:
    refused = await engine.command(SimpleCommand(act=act))
    assert refused is None, refused


async def refused(engine: Engine, act: Act) -> str:
    found = await engine.command(SimpleCommand(act=act))
    assert isinstance(found, Diagnostic)
    return found.slug
