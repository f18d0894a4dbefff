"""``feedscript withstand``: programs rehearsed with one named fault after another."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.check.in_pieces.cores import cores
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    faults_option,
    format_option,
    junit_option,
    launcher_option,
    library_option,
    named_option,
    scatter_seed_option,
    strict_option,
)
from feedscript.cli.output import (
    Exit,
    leave,
    print_diagnostics,
    print_json,
    tell,
    writing,
)
from feedscript.cli.progress import watched
from feedscript.cli.prove.named_faults import chosen
from feedscript.diagnostics import as_json
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.shipped import files_in, program_path

if TYPE_CHECKING:
    from feedscript.bench.trials.hold_trials import Held


@click.command()
@click.argument("paths", type=PROGRAM, nargs=-1, required=True, metavar="PATH…")
@faults_option("without it, the forty that come with feedscript")
@named_option
@click.option(
    "--to-the-end",
    is_flag=True,
    help="Rehearse every lesson to its end; without it, until twelve balls after the fault.",
)
@junit_option
@click.option("--jobs", type=click.IntRange(1), help="Processes at once; else one for each core.")
@strict_option
@scatter_seed_option
@launcher_option(OF_THE_PROGRAM)
@library_option
@format_option
def command(
    paths: tuple[str, ...],
    faults_file: Path | None,
    named: tuple[str, ...],
    to_the_end: bool,
    junit_file: Path | None,
    jobs: int | None,
    strict: bool,
    scatter_seed: int,
    launcher: Path | None,
    library: Path | None,
    output_format: str,
) -> None:
    """Rehearse each program at PATH (files, shipped names or folders) once with each named fault:
    jams, dead links, lost answers, power cuts, people who come late.

    What is expected of each fault is judged by what the simulated launcher saw of itself, not by
    what the host believes. Exits 0 only when every program passed the check, every fault struck
    and everything expected of it holds.
    """
    options = Options(launcher=launcher, library=library)
    verdicts = _verdicts([program_path(path, library) for path in paths], options)
    trials = chosen(faults_file, named, output_format)
    from feedscript.bench.trials.hold_trials import BALLS_AFTER, Asked, hold_all

    asked = Asked(
        trials=trials,
        options=options,
        scatter_seed=scatter_seed,
        balls_after=None if to_the_end else BALLS_AFTER,
    )
    passed = [(path, verdict) for path, verdict in verdicts if verdict.ok]
    found = list(
        watched("faults", hold_all(passed, asked, jobs or cores()), len(passed) * len(trials))
    )
    if junit_file is not None:
        _write_junit(junit_file, found, strict)
    ok = len(passed) == len(verdicts) and all(one.ok(strict=strict) for one in found)
    if output_format == "json":
        _print(verdicts, found, ok, strict)
    else:
        _tell(verdicts, found, strict)
    leave(Exit.FINE if ok else Exit.PROGRAM)


def _verdicts(places: Sequence[Path], options: Options) -> list[tuple[Path, Verdict]]:
    programs = list(dict.fromkeys(one for place in places for one in files_in(place)))
    if not programs:
        raise click.UsageError(f"{places[0]} holds no program: there is nothing to rehearse")
    return [(path, check_program(path, options)) for path in programs]


def _write_junit(path: Path, found: Sequence[Held], strict: bool) -> None:
    from feedscript.bench.trials.report import junit

    with writing(path):
        write_private(path, junit(found, strict=strict))


def _print(
    verdicts: Sequence[tuple[Path, Verdict]], found: Sequence[Held], ok: bool, strict: bool
) -> None:
    from feedscript.bench.trials.report import plain

    refused = [
        {"file": str(path), "diagnostics": [as_json(one) for one in verdict.diagnostics]}
        for path, verdict in verdicts
        if not verdict.ok
    ]
    held = [plain(one, strict=strict) for one in found]
    print_json(headed("withstand", {"ok": ok, "faults": held, "refused": refused}))


def _tell(verdicts: Sequence[tuple[Path, Verdict]], found: Sequence[Held], strict: bool) -> None:
    from feedscript.bench.trials.hold_trials import Standing

    for path, verdict in verdicts:
        tell(str(path), bold=True)
        if not verdict.ok:
            print_diagnostics(verdict.diagnostics, verdict.sources)
        for one in found:
            if one.path == path:
                _tell_one(one, strict)
    standings = [one.standing for one in found]
    counts = ", ".join(f"{standings.count(each)} {each.value}" for each in Standing)
    refused = sum(not verdict.ok for _, verdict in verdicts)
    more = f"; {refused} of {len(verdicts)} programs refused" if refused else ""
    tell(f"{len(found)} rehearsals with a fault: {counts}{more}")


def _tell_one(one: Held, strict: bool) -> None:
    from feedscript.bench.trials.hold_trials import Standing

    fine = one.standing is Standing.HOLDS
    colour = "green" if fine else "yellow" if one.ok(strict=strict) else "red"
    tell(f"  {one.standing.value:<12}", fg=colour, end="")
    tell(f"  {one.trial.name}")
    for judged in one.failed:
        tell(f"                {judged.words}: {judged.figure}")
