"""``feedscript certify``: write the certified plan of a program."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.check.check_program import Options, check_program
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    format_option,
    launcher_option,
    library_option,
    out_option,
    seed_option,
)
from feedscript.cli.output import Exit, answer, leave, writing
from feedscript.diagnostics import as_json
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.plan.canonical import canonical_bytes, digest
from feedscript.shipped import program_path


@click.command()
@click.argument("file", type=PROGRAM)
@out_option("the plan, canonical JSON.", required=True, piped=".json")
@launcher_option(OF_THE_PROGRAM)
@library_option
@seed_option
@format_option
def command(
    file: str,
    out: Path,
    launcher: Path | None,
    library: Path | None,
    seed: int | None,
    output_format: str,
) -> None:
    """Check FILE and write its certified plan; a program that is refused has none."""
    options = Options(launcher=launcher, seed=seed, library=library)
    verdict = check_program(program_path(file, library), options)
    plan = verdict.plan if verdict.ok else None
    if plan is not None:
        with writing(out):
            write_private(out, canonical_bytes(plan))
    hashed = None if plan is None else digest(plan)
    plain = {
        "ok": plan is not None,
        "diagnostics": [as_json(each) for each in verdict.diagnostics],
        "plan": None if plan is None else str(out),
        "sha256": hashed,
    }
    words = "" if plan is None else f"{out}  sha256 {hashed}"
    plain = headed("certify", plain)
    answer(output_format, plain, words, verdict.diagnostics, verdict.sources)
    leave(Exit.FINE if plan is not None else Exit.PROGRAM)
