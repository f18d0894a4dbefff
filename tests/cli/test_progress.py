"""What takes long says how far it has come, to a person at a terminal and to nobody else."""

from __future__ import annotations

import io

import click
import pytest

from feedscript.cli.common import QUIET
from feedscript.cli.progress import counted, watched


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def shown(monkeypatch: pytest.MonkeyPatch, to: io.StringIO, *, quiet: bool = False) -> str:
    monkeypatch.setattr("sys.stderr", to)
    with click.Context(click.Command("check")) as context:
        context.meta[QUIET] = quiet
        assert list(watched("programs", iter("abc"), 3)) == ["a", "b", "c"]
        with counted("lessons") as watch:
            watch(1, 2)
            watch(2, 2)
    return to.getvalue()


def test_a_person_sees_how_far_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    told = shown(monkeypatch, Terminal())
    assert "programs" in told
    assert "lessons" in told
    assert told.count("100%") == 2


def test_nothing_is_put_into_a_pipe_or_told_to_whom_it_shall_be_quiet(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert shown(monkeypatch, io.StringIO()) == ""
    assert shown(monkeypatch, Terminal(), quiet=True) == ""
