"""What every command shares at the rim: output formats, exit codes, rendered diagnostics."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from enum import IntEnum
from pathlib import Path
from typing import Any, NoReturn

import click

from feedscript.cli.common import is_quiet
from feedscript.diagnostics import Diagnostic, Severity, as_json, in_reading_order, render
from feedscript.formats import headed
from feedscript.visible import json_visible, visible


class Exit(IntEnum):
    """How a command ends."""

    FINE = 0
    PROGRAM = 1  # the program has errors, or an expectation failed or was not decided
    USAGE = 2
    LAUNCHER = 3  # launcher or link trouble, and every ending that nobody chose


def tell(words: str, *, error: bool = False, end: str = "\n", **style: Any) -> None:
    """Words on standard output, or on the other one; in this style where the terminal has any.

    The one way out for the commands' words: they may quote anybody's, and a terminal obeys what it
    is sent.
    """
    if not error and is_quiet():
        return
    shown, folder = visible(words), _instead_of_standard_output()
    if folder:  # a file of ours that goes to standard output is called that
        shown = shown.replace(f"{folder}{os.sep}", "")
    to_error = error or bool(folder)
    click.echo((click.style(shown, **style) if style else shown) + end, err=to_error, nl=False)


#: Where a command's context keeps the folder of the file that goes to standard output.
TO_STANDARD_OUTPUT = "feedscript.to_standard_output"


def _instead_of_standard_output() -> str:
    """The folder in which what goes there is written; "" where words do."""
    context = click.get_current_context(silent=True)
    return "" if context is None else str(context.meta.get(TO_STANDARD_OUTPUT, ""))


def print_json(value: Any) -> None:
    """One document (``formats.headed``) on standard output.

    Raises UsageError where that is the file written.
    """
    if _instead_of_standard_output():
        click.get_current_context().meta[TO_STANDARD_OUTPUT] = ""
        raise click.UsageError("--format json and -o - would both write on standard output")
    click.echo(json_visible(json.dumps(value, indent=2, ensure_ascii=False)))


_COLOURS = {Severity.ERROR: "red", Severity.WARNING: "yellow", Severity.NOTE: "blue"}


def print_diagnostics(
    diagnostics: Iterable[Diagnostic], sources: Mapping[str, str], *, to_stderr: bool = True
) -> None:
    """Each diagnostic in reading order; the first line coloured where the terminal has colour."""
    for diagnostic in in_reading_order(diagnostics):
        if is_quiet() and diagnostic.severity is not Severity.ERROR:
            continue
        first, _, rest = render(diagnostic, sources).partition("\n")
        tell(first, error=to_stderr, fg=_COLOURS[diagnostic.severity], bold=True)
        tell(f"{rest}\n" if rest else "", error=to_stderr)


def answer(
    output_format: str,
    plain: object,
    words: str = "",
    found: Iterable[Diagnostic] = (),
    sources: Mapping[str, str] | None = None,
) -> None:
    """What came of a command: ``plain`` for machines, diagnostics and words for people."""
    if output_format == "json":
        print_json(plain)
        return
    print_diagnostics(found, sources or {})
    if words:
        tell(words)


@contextmanager
def writing(out: Path) -> Iterator[None]:
    """A file or folder that cannot be written is wrong usage, whatever the reason."""
    try:
        yield
    except OSError as trouble:
        words = trouble.strerror or str(trouble)
        raise click.UsageError(f"{out} cannot be written: {words}") from trouble


def refuse(
    code: Exit,
    found: Iterable[Diagnostic],
    output_format: str,
    sources: Mapping[str, str] | None = None,
) -> NoReturn:
    """End the command with what kept it from its work, in the format that was asked for."""
    if output_format == "json":
        told = [as_json(one) for one in in_reading_order(found)]
        print_json(headed("refused", {"ok": False, "diagnostics": told}))
    else:
        print_diagnostics(found, sources or {})
    leave(code)


def leave(code: Exit) -> NoReturn:
    """End the command with this exit code, also where nobody can read any more what it says."""
    for stream in (sys.stdout, sys.stderr):
        with nobody_may_read():
            stream.flush()
    raise SystemExit(int(code))


@contextmanager
def nobody_may_read() -> Iterator[None]:
    """The window or pipe that is written to may be gone: what else is written goes nowhere."""
    try:
        yield
    except OSError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for stream in (sys.stdout, sys.stderr):
            os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
