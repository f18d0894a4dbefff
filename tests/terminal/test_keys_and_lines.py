"""Bytes become keys and lines, however they are cut; keys and lines become commands."""

from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from itertools import pairwise

import anyio
import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.diagnostics import Diagnostic
from feedscript.plan.model import Result
from feedscript.session.operator.commands import (
    Answer,
    ChangeRoster,
    Command,
    EnterCode,
    MarkLanding,
    RecordResult,
    RosterChange,
    SetRung,
    SimpleCommand,
    ToExercise,
    UndoResult,
)
from feedscript.session.operator.controls import control_of_key
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView, RungView
from feedscript.terminal.key_reader import KeyReader
from feedscript.terminal.run import _AtTerminal, _take_keys
from feedscript.terminal.screen import _rungs
from feedscript.terminal.terminal_state import TerminalState
from feedscript.terminal.typed_lines import command_in
from tests.session.operator.seen_views import a_state, at


def keys(*parts: bytes) -> list[str]:
    reader = KeyReader()
    return [key for part in parts for key in reader.take(part)]


def command_for(key: str, view: LessonView) -> Command | None:
    control = control_of_key(view.controls, key)
    return None if control is None else control.command


@pytest.mark.parametrize(
    "sequence",
    [b"\x1b[15~", b"\x1b[1;5C", b"\x1b[3~", b"\x1b[2~", b"\x1b[200~", b"\x1b[?1;2c"],
    ids=["F5", "ctrl-right", "delete", "insert", "paste", "answer"],
)
def test_no_digit_inside_a_longer_key_is_a_result(sequence: bytes) -> None:
    """ECMA-48, Control Functions for Coded Character Sets, 5.4: parameters, then one final byte."""
    pressed = keys(b"s", sequence, b"5")
    assert [command_for(key, a_state()) for key in pressed] == [
        SimpleCommand(act=Act.STOP),
        None,
        RecordResult(result=Result.IN),
    ]


def test_a_clicker_at_the_terminal_is_understood() -> None:
    pressed = [command_for(key, a_state()) for key in keys(b"\x1b[6~\x1b[5~.")]
    assert pressed == [RecordResult(result=Result.IN), UndoResult(), SimpleCommand(act=Act.HOLD)]


@pytest.mark.parametrize("arrow", [b"\x1b[A", b"\x1bOA"])
def test_both_forms_of_an_arrow_are_the_arrow(arrow: bytes) -> None:
    assert command_for(keys(arrow)[0], a_state()) == RecordResult(result=Result.LONG)


TYPED = "5ü\x1b[A:rest Böö\rs\x1b[15~:x\x7f\x7fu\x1bOD".encode()


@pytest.mark.parametrize(("key", "act"), [(b"\x13", Act.STOP), (b"\x18", Act.EMERGENCY_STOP)])
def test_a_stop_comes_through_a_line_that_is_typed(key: bytes, act: Act) -> None:
    reader = KeyReader()
    (pressed,) = reader.take(b":rest Tes" + key)
    assert command_for(pressed, a_state()) == SimpleCommand(act=act)
    assert reader.line is None


@given(st.lists(st.integers(0, len(TYPED)), max_size=6))
def test_it_does_not_matter_how_the_bytes_are_cut(cuts: list[int]) -> None:
    places = [0, *sorted(cuts), len(TYPED)]
    parts = [TYPED[a:b] for a, b in pairwise(places)]
    assert keys(*parts) == keys(TYPED)
    assert ":rest Böö" in keys(TYPED)


@given(st.lists(st.binary(max_size=12), max_size=6))
def test_no_bytes_break_the_typing(parts: list[bytes]) -> None:
    for key in keys(*parts):
        command_for(key, a_state())
        command_in(key, a_state())


@pytest.mark.parametrize(
    ("line", "command"),
    [
        (":rest Ana", ChangeRoster(change=RosterChange.REST, player="Ana")),
        (":join Bo left", ChangeRoster(change=RosterChange.JOIN, player="Bo", left_handed=True)),
        (":join left", ChangeRoster(change=RosterChange.JOIN, player="left")),
        (":leave Ana Maria", ChangeRoster(change=RosterChange.LEAVE, player="Ana Maria")),
        (":back Ana", ChangeRoster(change=RosterChange.JOIN, player="Ana")),
        (":exercise 3", ToExercise(number=3)),
        (":code 1234", EnterCode(launcher=0, code="1234")),
        (":at 1.5 -9", MarkLanding(landing_m=(1.5, -9.0))),
        (":at 1.5m -9m", MarkLanding(landing_m=(1.5, -9.0))),
    ],
)
def test_lines_say_what_needs_a_name(line: str, command: Command) -> None:
    assert command_in(line, a_state()) == command


def test_a_line_sets_the_step_of_a_player() -> None:
    rung = RungView(
        player="Ana Maria",
        progression="pace",
        rung=0,
        rungs=("easy", "deep"),
        as_last_time=False,
        may_be_set=True,
    )
    state = a_state()
    private = msgspec.structs.replace(state.private, rungs=(rung,))
    state = msgspec.structs.replace(state, private=private)
    wanted = SetRung(player="Ana Maria", progression="pace", rung=1)
    assert command_in(":step ana maria deep", state) == wanted
    for line in (":step Ana deep", ":step Ana Maria wide", ":step deep"):
        assert isinstance(command_in(line, state), Diagnostic)
    shown = "\n".join(str(line) for line in _rungs(state))
    assert "pace: Ana Maria easy" in shown
    assert ":step Ana Maria easy" in shown


@pytest.mark.parametrize("line", [":", ":rest", ":at 3", ":at x y", ":code abc", ":stopp", ":code"])
def test_a_line_that_says_nothing_is_refused_with_what_might_be_said(line: str) -> None:
    refused = command_in(line, a_state())
    assert isinstance(refused, Diagnostic)
    assert refused.slug == "not-understood"
    assert ":rest" in refused.help


def test_the_code_goes_to_the_launcher_that_asks_for_one() -> None:
    state = a_state()
    (one,) = state.launchers
    two = msgspec.structs.replace(one, wants_code=True)
    state = msgspec.structs.replace(state, launchers=(one, two))
    assert command_in(":code 77", state) == EnterCode(launcher=1, code="77")


@pytest.mark.parametrize(
    ("phase", "key", "command"),
    [
        (Phase.RUNNING, " ", SimpleCommand(act=Act.HOLD)),
        (Phase.HELD, " ", SimpleCommand(act=Act.GO_ON)),
        (Phase.HELD, "h", SimpleCommand(act=Act.HOLD)),
        (Phase.JUDGING, "Enter", SimpleCommand(act=Act.SEEN)),
        (Phase.SHOWING, "Enter", SimpleCommand(act=Act.CLEAR)),
        (Phase.COLLECTING, "Enter", SimpleCommand(act=Act.COLLECTED)),
        (Phase.STOPPED, "Enter", SimpleCommand(act=Act.SET_UP_AGAIN)),
        (Phase.FINISHED, "Enter", SimpleCommand(act=Act.QUIT)),
        (Phase.RUNNING, "Enter", None),
        (Phase.ARMING, "Enter", None),
        (Phase.RUNNING, "u", UndoResult()),
        (Phase.RUNNING, "n", SimpleCommand(act=Act.NEXT)),
        (Phase.RUNNING, "Q", None),
    ],
)
def test_a_key_means_what_the_phase_asks(phase: Phase, key: str, command: Command | None) -> None:
    assert command_for(key, at(phase)) == command


def test_a_ball_in_question_is_answered_with_y_or_n() -> None:
    state: LessonView = at(Phase.ASKING)
    assert command_for("y", state) == Answer(feed_id=9, left=True)
    assert command_for("n", state) == Answer(feed_id=9, left=False)


@pytest.mark.parametrize("phase", Phase)
def test_stop_is_one_key_in_every_phase(phase: Phase) -> None:
    assert command_for("s", at(phase)) == SimpleCommand(act=Act.STOP)
    assert command_for("x", at(phase)) == SimpleCommand(act=Act.EMERGENCY_STOP)


class Slow:
    """A lesson in which another pace is being proven, and no launcher answers."""

    def __init__(self) -> None:
        self.view = at(Phase.RUNNING)
        self.lesson = self
        self.asked: list[Act] = []
        self.come = anyio.Event()

    def touch(self) -> None:
        pass

    async def command(self, command: Command, by: str) -> None:
        assert isinstance(command, SimpleCommand)
        self.asked.append(command.act)
        self.come.set()
        self.come = anyio.Event()
        if command.act is not Act.QUIT:
            await anyio.sleep_forever()


def key_of(act: Act) -> bytes:
    found = [one for one in a_state().controls if one.command == SimpleCommand(act=act)]
    return next(key.encode() for key in found[0].keys if len(key) == 1)


@pytest.mark.parametrize("act", [Act.STOP, Act.EMERGENCY_STOP, Act.HOLD])
def test_a_stop_and_a_hold_wait_for_no_key_before_them(
    act: Act, monkeypatch: pytest.MonkeyPatch
) -> None:
    pressed = [key_of(Act.SLOWER), key_of(Act.NEXT), key_of(act), key_of(Act.STOP)]
    lesson = Slow()

    @asynccontextmanager
    async def keyboard() -> AsyncIterator[Callable[[], Awaitable[bytes]]]:
        async def read() -> bytes:
            if not pressed:
                await anyio.sleep_forever()
            return pressed.pop(0)

        yield read

    async def press() -> None:
        async with anyio.create_task_group() as tasks:
            seen = _AtTerminal(lesson, None, TerminalState(keys=True, pairs=False))
            tasks.start_soon(_take_keys, seen)
            with anyio.fail_after(20):
                while lesson.asked.count(Act.STOP) < 1 + (act is Act.STOP):
                    await lesson.come.wait()
            tasks.cancel_scope.cancel()

    monkeypatch.setattr("feedscript.terminal.run.keys", keyboard)
    anyio.run(press)
    assert lesson.asked == [act, Act.STOP] or lesson.asked == [Act.SLOWER, act, Act.STOP]
