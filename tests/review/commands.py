"""The two commands under test, run as a person would; no traceback, whatever they are given."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from feedscript.cli.after.journal import command as journal_command
from feedscript.cli.after.review import command as review


def run(*words: str | Path, code: int = 0) -> str:
    done = CliRunner().invoke(review, [str(word) for word in words])
    assert done.exit_code == code, done.output
    assert "Traceback" not in done.output
    return done.output


def keep(*words: str | Path, code: int = 0) -> str:
    """``feedscript journal``."""
    done = CliRunner().invoke(journal_command, [str(word) for word in words])
    assert done.exit_code == code, done.output
    return done.output
