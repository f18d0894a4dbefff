"""A lesson at a terminal: states shown, keys taken, Ctrl-C as a stop."""

from __future__ import annotations

import os
import signal
import sys
import termios
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

import anyio
from rich.console import Console
from rich.live import Live

from feedscript.diagnostics import Diagnostic
from feedscript.session.commands import Do
from feedscript.session.engine import Ending, Engine
from feedscript.session.keyboard import Typing, command_for, command_in
from feedscript.session.person import Person
from feedscript.session.screen import Lines, render
from feedscript.session.states import Act

#: The screen is drawn no more often than this.
REDRAW_S = 0.1


async def at_terminal(engine: Engine, *, keys: bool, says_yes: bool, out: TextIO) -> Ending:
    """Run a lesson with this terminal as its controls. Without ``keys`` nobody can hold it; a
    script that says yes then quits at the first trouble."""
    async with anyio.create_task_group() as tasks:
        typing = Typing()
        tasks.start_soon(_take_signals, engine)
        tasks.start_soon(_show, engine, typing, out)
        if says_yes:
            tasks.start_soon(Person(engine, mends=None if keys else 0).oblige)
        if keys:
            tasks.start_soon(_take_keys, engine, typing)
        ending = await engine.run()
        await anyio.sleep(REDRAW_S)  # the last state is shown
        tasks.cancel_scope.cancel()
    return ending


async def _take_signals(engine: Engine) -> None:
    """Ctrl-C, a closed window or a polite kill: stop first, then end."""
    with anyio.open_signal_receiver(signal.SIGINT, signal.SIGTERM, signal.SIGHUP) as signals:
        async for _ in signals:
            await engine.command(Do(act=Act.STOP), by="signal")
            await engine.command(Do(act=Act.QUIT), by="signal")


async def _take_keys(engine: Engine, typing: Typing) -> None:
    with _key_by_key() as descriptor:
        while True:
            await anyio.wait_readable(descriptor)
            data = os.read(descriptor, 1024)
            if not data:
                return
            for key in typing.take(data):
                await _do_key(engine, key)
            engine.lesson.touch()


async def _do_key(engine: Engine, key: str) -> None:
    command = command_in(key) if len(key) > 1 and key[0] == ":" else command_for(key, engine.state)
    refused = command if isinstance(command, Diagnostic) else None
    if command is not None and not isinstance(command, Diagnostic):
        refused = await engine.command(command, by="keys")
    if refused is not None:
        engine.lesson.trouble(refused)


@contextmanager
def _key_by_key() -> Iterator[int]:
    """The terminal gives each key at once, unechoed; afterwards it is as it was."""
    descriptor = sys.stdin.fileno()
    before = termios.tcgetattr(descriptor)
    tty.setcbreak(descriptor)
    try:
        yield descriptor
    finally:
        termios.tcsetattr(descriptor, termios.TCSADRAIN, before)


async def _show(engine: Engine, typing: Typing, out: TextIO) -> None:
    console = Console(file=out, highlight=False)
    if not console.is_terminal:
        lines = Lines()
        async for state in engine.states():
            for line in lines.new_in(state):
                console.print(line)
        return
    with Live(console=console, auto_refresh=False, screen=False) as live:
        async for state in engine.states():
            live.update(render(state, typing.line), refresh=True)
            await anyio.sleep(REDRAW_S)
