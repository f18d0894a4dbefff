"""``board-check``'s words: what it asks, what it tells, how it ends."""

from __future__ import annotations

import contextlib
import json
from collections.abc import AsyncIterator
from typing import Any

import pytest
from click.testing import CliRunner, Result
from feedscript_drivers.setting_up.board_check.host import BoardHost, Wrong
from feedscript_drivers.setting_up.board_check.steps import Bench, Do, Found, Person, See, Step

from feedscript.cli import verbs
from feedscript.cli.setting_up import board_check


async def _pressed(bench: Bench) -> str:
    await bench.person.do(Do.PRESS)
    if not await bench.person.sees(See.ALL_OFF):
        raise Wrong("something is still on")
    return "off"


@contextlib.asynccontextmanager
async def _no_line(_url: str) -> AsyncIterator[None]:
    yield None


async def _one_step(_stream: None, person: Person) -> AsyncIterator[Found]:
    step = Step("emergency stop", _pressed, "board_stop_loop_open()")
    bench = Bench(BoardHost(None), person)  # type: ignore[arg-type]
    try:
        yield Found(step.name, await step.trial(bench), True)
    except Wrong as wrong:
        yield Found(step.name, str(wrong), False, step.help)


@pytest.fixture
def with_one_step(monkeypatch: pytest.MonkeyPatch) -> None:
    tools: dict[str, Any] = {"board-at": _no_line, "board-check": _one_step}
    monkeypatch.setattr(board_check, "tool", tools.__getitem__)


def checked(*words: str, typed: str) -> Result:
    return CliRunner().invoke(verbs, ["board-check", "--on", "serial:x", *words], input=typed)


def test_each_step_says_what_to_press_and_asks_what_is_seen(with_one_step: None) -> None:
    done = checked(typed="\ny\n")
    assert done.exit_code == 0, done.output
    assert "press the emergency stop, then press Enter" in done.stderr
    assert "no servo pulse, lamp dark?" in done.stderr
    assert done.stdout.splitlines()[0] == "fine  emergency stop: off"
    assert "All 1 steps are fine" in done.stdout


def test_what_is_wrong_is_named_with_the_function_to_look_at(with_one_step: None) -> None:
    done = checked(typed="\nn\n")
    assert done.exit_code == 3
    assert "LOOK  emergency stop: something is still on" in done.stdout
    assert "board_stop_loop_open()" in done.stdout
    assert "Do not give its wheels power." in done.stdout


def test_the_report_for_machines(with_one_step: None) -> None:
    done = checked("--format", "json", typed="\nn\n")
    assert done.exit_code == 3
    report = json.loads(done.stdout)
    assert report["ok"] is False
    assert report["steps"][0]["name"] == "emergency stop"


@pytest.mark.parametrize("url", ["tcp:192.0.2.7:7878", "sim:", "ttyUSB0"])
def test_only_a_board_at_its_cable_is_checked(url: str) -> None:
    done = CliRunner().invoke(verbs, ["board-check", "--on", url])
    assert done.exit_code == 3
    assert "is not a board at its cable" in done.stderr
