"""``feedscript tidy``: programs in the usual layout."""

from __future__ import annotations

import difflib
import os
import sys
from pathlib import Path

import click

from feedscript.check.check_program import UNREADABLE
from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, leave, print_diagnostics, print_json, tell, writing
from feedscript.diagnostics import Diagnostic, as_json
from feedscript.formats import headed
from feedscript.host.whole_file import replace_whole
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.language.tools.formatter import format_text
from feedscript.own_library import SEASON_ENDING
from feedscript.plain_file import STANDARD_INPUT, read_plain
from feedscript.shipped import PROGRAM_ENDING, files_in, program_meant
from feedscript.text_file import text_of


@click.command("tidy")
@click.argument("files", nargs=-1, metavar="FILE…")
@click.option("--check", is_flag=True, help="Write nothing; exit 1 when a file would change.")
@click.option("--diff", is_flag=True, help="Write nothing; show what would change.")
@format_option
def command(files: tuple[str, ...], check: bool, diff: bool, output_format: str) -> None:
    """Bring programs into the usual layout; comments stay, the program's meaning never changes.

    FILE may be a folder (all programs and seasons in it) or - for standard input. With standard
    input the result goes to standard output.
    """
    if not files:
        raise click.UsageError("name a file, a folder, or - for standard input")
    failed = changed = False
    results = []
    for path in _paths(files):
        name = "standard input" if path is None else str(path)
        text = _read(path)
        neat, diagnostics = (
            (None, (text,)) if isinstance(text, Diagnostic) else format_text(text, name)
        )
        results.append((name, diagnostics, neat is not None and neat != text))
        if neat is None or isinstance(text, Diagnostic):
            failed = True
            if output_format == "text":
                sources = {} if isinstance(text, Diagnostic) else {name: text}
                print_diagnostics(diagnostics, sources)
            continue
        changed |= neat != text
        if path is not None and neat != text and not (check or diff):
            with writing(path):
                replace_whole(path, neat.encode("utf-8"))
        if output_format == "text":
            _show(name, text, neat, check=check, diff=diff, to_stdout=path is None)
    if output_format == "json":
        _as_object(results)
    leave(Exit.PROGRAM if failed or ((check or diff) and changed) else Exit.FINE)


def _paths(files: tuple[str, ...]) -> list[Path | None]:
    found: list[Path | None] = []
    for file in files:
        path = Path(file)
        if file == "-":
            found.append(None)
        elif os.path.isdir(path):
            found.extend(files_in(path, (PROGRAM_ENDING, SEASON_ENDING)))
        else:
            found.append(path)
    return found


def _read(path: Path | None) -> str | Diagnostic:
    try:
        data = read_plain(STANDARD_INPUT if path is None else path, MOST_BYTES)
        if len(data) <= MOST_BYTES:
            text = text_of(data)
            if isinstance(text, str):
                return text
            reason, fix = text.cause, text.fix
        else:
            reason, fix = f"it is longer than {MOST_BYTES} bytes", "split the program"
    except OSError as trouble:
        reason = trouble.strerror or str(trouble)
        fix = program_meant(path) if path else "give the path of a program"
    return UNREADABLE.report(
        f"{path or 'standard input'} cannot be read: {reason}",
        help=fix,
        device=str(path or "standard input"),
    )


def _show(name: str, text: str, neat: str, *, check: bool, diff: bool, to_stdout: bool) -> None:
    if diff:
        before, after = text.splitlines(keepends=True), neat.splitlines(keepends=True)
        sys.stdout.writelines(difflib.unified_diff(before, after, name, f"{name} (formatted)"))
    elif check:
        if neat != text:
            tell(f"would change: {name}")
    elif to_stdout:
        sys.stdout.write(neat)
    elif neat != text:
        tell(f"formatted: {name}")


def _as_object(results: list[tuple[str, tuple[Diagnostic, ...], bool]]) -> None:
    files = [
        {
            "file": name,
            "changed": changed,
            "diagnostics": [as_json(diagnostic) for diagnostic in diagnostics],
        }
        for name, diagnostics, changed in results
    ]
    print_json(headed("tidy", {"files": files}))
