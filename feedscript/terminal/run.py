"""A lesson at a terminal: views shown, keys taken, Ctrl-C as a stop."""

from __future__ import annotations

from typing import Protocol, TextIO

import anyio
import msgspec
from rich.console import Console

from feedscript.diagnostics import Diagnostic
from feedscript.host.ended_by import EndedBy
from feedscript.host.endings import endings
from feedscript.host.keyboard import keys
from feedscript.session.engine.engine import Ending, Engine
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.commands import Command, SimpleCommand
from feedscript.session.operator.controls import Area, Control, control_of_key
from feedscript.session.operator.phases import NOT_NOW, Act
from feedscript.session.operator.view import LessonView
from feedscript.terminal.line_writer import writing_lines
from feedscript.terminal.painter import painting
from feedscript.terminal.plain_lines import PlainLines
from feedscript.terminal.screen import render
from feedscript.terminal.terminal_state import TerminalState
from feedscript.terminal.typed_lines import command_in
from feedscript.visible import on_one_line

#: The screen is drawn no more often than this, and no less often than that.
REDRAW_S = 0.1
STILL_DRAWN_S = 0.5

#: Ends that no person at the lesson wishes, and what they tell of it.
_NOT_CHOSEN = {
    EndedBy.PROGRAM: "another program ended it",
    EndedBy.WINDOW: "the terminal's window is gone",
}

#: The words of those ends: whoever ended the lesson so wants no other one.
ENDED_FROM_OUTSIDE = frozenset(_NOT_CHOSEN.values())


class Pairing(Protocol):
    """How another device gets to the page that is served beside the lesson."""

    def invite(self, viewer: bool) -> str:
        """A fresh invitation in words: for a coach's device, or a screen for the group."""
        ...

    def is_open(self) -> bool:
        """Whether the last invitation still waits for its device."""
        ...


class Terminal(msgspec.Struct, frozen=True, kw_only=True):
    """Where a lesson is shown and commanded from. Without ``keys`` nobody can hold it; a script
    that says yes then quits at the first trouble. ``pairing`` is None where no page is served."""

    out: TextIO
    keys: bool
    says_yes: bool
    pairing: Pairing | None = None
    late_taps_s: float = 0.0


class _AtTerminal(msgspec.Struct, eq=False):
    """The lesson, and what this terminal shows and asks of it."""

    engine: Engine
    pairing: Pairing | None
    own: TerminalState
    question: tuple[Command, ...] = ()
    asked_s: float = 0.0  # since when the present question stands
    come: anyio.Event = msgspec.field(default_factory=anyio.Event)  # keys, since it was looked

    def note_question(self, view: LessonView) -> None:
        """What may be answered now; another answer is to another question."""
        asked = (one for one in view.controls if one.to_be_read and one.shown)
        question = tuple(one.command for one in asked)
        if question != self.question:
            self.question, self.asked_s = question, anyio.current_time()
            self.own.refused = None  # it was about the question before


async def at_terminal(engine: Engine, terminal: Terminal) -> Ending:
    """Run a lesson with this terminal as its controls."""
    own = TerminalState(keys=terminal.keys, pairs=terminal.pairing is not None)
    at = _AtTerminal(engine, terminal.pairing, own)
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(_take_endings, engine)
        tasks.start_soon(_show, at, terminal.out)
        if terminal.says_yes:
            person = AutoOperator(engine, fixes=None if terminal.keys else 0)
            tasks.start_soon(person.operate)
        if terminal.keys:
            tasks.start_soon(_take_keys, at)
        ending = await engine.run(terminal.late_taps_s)
        await anyio.sleep(REDRAW_S)  # the last view is shown
        tasks.cancel_scope.cancel()
    return ending


async def _take_endings(engine: Engine) -> None:
    """Ctrl-C, a closed window or a polite kill: stop first, then end."""
    with endings() as asked:
        async for by in asked:
            await stop_and_end(engine, "signal", _NOT_CHOSEN.get(by, ""))


async def stop_and_end(engine: Engine, by: str, cause: str = "") -> None:
    """Stop every launcher, then end. ``cause``: what ends it, where no person at it does."""
    await engine.command(SimpleCommand(act=Act.STOP), by=by)
    engine.lesson.found_cause(cause)
    await engine.command(SimpleCommand(act=Act.QUIT), by=by)


# -- keys ---------------------------------------------------------------------------------


async def _take_keys(at: _AtTerminal) -> None:
    """One key after another. A stop or a hold waits for none before it, and takes back what would
    move the lesson and still waits: what is being proven for one of them, or a launcher that does
    not answer, may take its time."""
    waiting: list[str] = []
    async with keys() as read, anyio.create_task_group() as tasks:
        tasks.start_soon(_do_waiting, at, waiting)
        while True:
            data = await read()
            if not data:  # the window is gone, and with it the hand that could hold
                waiting.clear()
                await stop_and_end(at.engine, "keyboard gone", "the keyboard is gone")
                tasks.cancel_scope.cancel()
                return
            for key in at.own.reader.take(data):
                control = control_of_key(at.engine.view.controls, key)
                if control is not None and control.at_once:
                    waiting[:] = [one for one in waiting if _records(at, one)]
                    tasks.start_soon(_do_key, at, key)
                else:
                    waiting.append(key)
            at.come.set()


def _records(at: _AtTerminal, key: str) -> bool:
    """Whether a key tells of a ball that has gone, and moves nothing."""
    control = control_of_key(at.engine.view.controls, key)
    return control is not None and not isinstance(control.command, SimpleCommand)


async def _do_waiting(at: _AtTerminal, waiting: list[str]) -> None:
    while True:
        at.come = anyio.Event()
        while waiting:
            await _do_key(at, waiting.pop(0))
        await at.come.wait()


async def _do_key(at: _AtTerminal, key: str) -> None:
    await _done(at, key)
    at.engine.lesson.touch()


async def _done(at: _AtTerminal, key: str) -> None:
    own, view = at.own, at.engine.view
    at.note_question(view)
    own.refused = None
    if _shows_something_else(at, key, control_of_key(view.controls, key)):
        return
    command = _meant(at, view, key)
    if isinstance(command, Diagnostic):
        own.refused = command
    elif command is not None:
        own.refused = await at.engine.command(command, by="keys")


def _meant(at: _AtTerminal, view: LessonView, key: str) -> Command | Diagnostic | None:
    """What a key or a line commands, unless it cannot be done now or was pressed unread."""
    if len(key) > 1 and key[0] == ":":
        return command_in(key, view)
    control = control_of_key(view.controls, key)
    if control is None:
        return None
    if control.why_not and not control.at_once:
        return NOT_NOW.report(control.why_not)
    if control.to_be_read and not _was_read(at, view.conventions.read_s):
        return NOT_NOW.report(view.conventions.too_soon)
    return control.command


def _shows_something_else(at: _AtTerminal, key: str, control: Control | None) -> bool:
    """Keys that change only what this terminal shows."""
    own = at.own
    if own.help or own.invitation:  # whatever key closes it does nothing more; a stop does
        own.help, own.invitation = False, ""
        return control is None or control.area is not Area.STOP
    if key == "?":
        own.help = True
    elif key == "v":
        own.quiet = not own.quiet
    elif key in ("p", "P") and at.pairing is not None:
        own.invitation = at.pairing.invite(key == "P")
    else:
        return False
    return True


def _was_read(at: _AtTerminal, read_s: float) -> bool:
    """Whether a yes can have been meant for what is asked now; one right after another cannot."""
    now_s = anyio.current_time()
    read = now_s - at.asked_s >= read_s
    at.asked_s = now_s
    return read


# -- screen -------------------------------------------------------------------------------


async def _show(at: _AtTerminal, out: TextIO) -> None:
    console = Console(file=out, highlight=False)
    if not at.own.keys or not console.is_terminal or console.is_dumb_terminal:
        await _show_lines(at, out)
        return
    if at.pairing is not None:
        at.own.invitation = at.pairing.invite(False)
    rung = 0
    with painting(console) as painter:
        while True:
            changed, view = at.engine.lesson.changed, at.engine.view
            at.note_question(view)
            if at.pairing is not None and not at.pairing.is_open():
                at.own.invitation = ""
            call = view.calls[-1].number if view.calls else 0
            painter.show(render(view, at.own), bell=call > rung and not at.own.quiet)
            rung = max(rung, call)
            await anyio.sleep(REDRAW_S)
            with anyio.move_on_after(STILL_DRAWN_S):
                await changed.wait()


async def _show_lines(at: _AtTerminal, out: TextIO) -> None:
    lines = PlainLines()
    with writing_lines(out) as writer:
        if at.pairing is not None:
            writer.write(at.pairing.invite(False))
        async for view in at.engine.views():
            at.note_question(view)
            for line in lines.new_in(view):
                writer.write(f"{on_one_line(line)}\n")
