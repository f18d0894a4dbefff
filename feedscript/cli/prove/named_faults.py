"""``--faults`` and ``--named``: which named faults a command is to carry out."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from feedscript.cli.options import faults_option, named_option
from feedscript.cli.output import Exit, refuse
from feedscript.diagnostics import FeedscriptError

if TYPE_CHECKING:
    from feedscript.launcher.trials.trial import Trial


def chosen(path: Path | None, named: tuple[str, ...], output_format: str) -> tuple[Trial, ...]:
    """The faults of a file, or those of these names; leaves the command where it is none."""
    from feedscript.bench.trials.read_trials import read_trials

    try:
        return read_trials(path, named)
    except FeedscriptError as bad:
        refuse(Exit.PROGRAM, [bad.diagnostic], output_format)


def striking_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Both options, passed on as one ``trials``: what one rehearsal or one stand-in is to have."""

    @functools.wraps(command)
    def with_trials(
        *, faults_file: Path | None, named: tuple[str, ...], output_format: str, **words: Any
    ) -> Any:
        if faults_file is not None and not named:
            raise click.UsageError("say which faults of --faults strike: --named NAME")
        trials = chosen(faults_file, named, output_format) if named else ()
        return command(trials=trials, output_format=output_format, **words)

    otherwise = "without it, those that come with feedscript; --named says which of them strike"
    return faults_option(otherwise)(named_option(with_trials))
