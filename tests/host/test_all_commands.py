"""Every command works where there is nothing of POSIX, or says why it cannot."""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest

from feedscript.cli import verbs
from tests.conftest import USER_FOLDERS
from tests.host.lines import LINES
from tests.host.windows import windows


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory, root: Path) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("typed")
    words = [sys.executable, "-m", "tests.host.all_commands", str(folder)]
    homes = {name: str(folder / "home") for name in USER_FOLDERS}  # what is typed may leave some
    environment = {**os.environ, **homes}
    done = subprocess.run(
        words, cwd=root, env=environment, capture_output=True, text=True, timeout=110
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return json.loads(done.stdout)


def test_no_command_needs_posix(told: dict[str, Any]) -> None:
    assert {line: one["wrong"] for line, one in told["told"].items() if one["wrong"]} == {}
    ended = {line: (one["code"], one["said"]) for line, one in told["told"].items()}
    assert {line: one for line, one in ended.items() if one[0] not in LINES[line]} == {}


def test_windows_own_modules_were_those_that_ran(told: dict[str, Any]) -> None:
    loaded = set(told["loaded"])
    assert {f"feedscript.host.windows_{one}" for one in ("console", "endings", "private")} <= loaded
    assert "feedscript.host.posix_terminal" not in loaded
    assert "feedscript_simulator.links.on_pty" not in loaded


def test_every_command_is_typed() -> None:
    def names(command: click.Command, before: str) -> list[str]:
        if not isinstance(command, click.Group):
            return [before]
        context = click.Context(command)
        each = (
            (name, command.get_command(context, name)) for name in command.list_commands(context)
        )
        return [one for name, inner in each for one in names(inner, f"{before} {name}".strip())]

    typed = [line.removeprefix("~") + " " for line in LINES]
    assert [
        one for one in names(verbs, "") if not any(t.startswith(one + " ") for t in typed)
    ] == []


@pytest.mark.parametrize("name", ["termios", "tty", "pty", "fcntl", "resource", "pwd", "grp"])
def test_what_is_taken_away_is_away(name: str) -> None:
    with windows(), pytest.raises(ModuleNotFoundError):
        importlib.import_module(name)
    importlib.import_module(name)
