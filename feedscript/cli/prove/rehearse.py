"""``feedscript rehearse``: the whole lesson on the stand-in, in virtual time."""

from __future__ import annotations

from contextlib import AbstractContextManager, closing, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    capture_option,
    fault_option,
    format_option,
    journal_option,
    launcher_option,
    library_option,
    results_option,
    scatter_seed_option,
    seed_option,
)
from feedscript.cli.output import Exit, leave, print_diagnostics, print_json, refuse
from feedscript.cli.prove.named_faults import striking_options
from feedscript.diagnostics import FeedscriptError
from feedscript.launcher.port import LauncherError
from feedscript.shipped import program_path

if TYPE_CHECKING:
    from feedscript.journal.store import Journal
    from feedscript.launcher.trials.trial import Trial
    from feedscript.session.rehearsal.rehearse import Rehearsal


@click.command()
@click.argument("file", type=PROGRAM)
@launcher_option(OF_THE_PROGRAM)
@library_option
@seed_option
@scatter_seed_option
@click.option(
    "--pace",
    type=click.Choice(["virtual", "real"]),
    default="virtual",
    show_default=True,
    help="Virtual: an hour in a few seconds. Real: as long as on court.",
)
@click.option(
    "--taps",
    type=click.Choice(["soon", "never"]),
    default="soon",
    show_default=True,
    help="Of balls on request the coach asks for each as soon as one may leave, or for none.",
)
@results_option
@fault_option
@striking_options
@capture_option("the rehearsal's is written there, and each further launcher's beside it.")
@journal_option("the rehearsal is written into it; without it, nowhere")
@format_option
def command(
    file: str,
    launcher: Path | None,
    library: Path | None,
    seed: int | None,
    scatter_seed: int,
    pace: str,
    taps: str,
    results: str,
    faults: tuple[str, ...],
    trials: tuple[Trial, ...],
    capture: Path | None,
    journal_path: Path | None,
    output_format: str,
) -> None:
    """Rehearse FILE: the same engine, driver and wire as on court, on a simulated launcher.

    Prints the lesson's time line, and where each ball landed beside where it was aimed.
    """
    path = program_path(file, library)
    verdict = check_program(path, Options(launcher=launcher, seed=seed, library=library))
    if not verdict.ok or verdict.plan is None:
        refuse(Exit.PROGRAM, verdict.diagnostics, output_format, verdict.sources)
    from feedscript.session.operator.auto_operator import Taps
    from feedscript.session.rehearsal.rehearse import rehearse
    from feedscript.session.rehearsal.tried import Tried
    from feedscript.terminal.rehearsal_report import progress

    try:
        live = pace == "real"
        with _kept(journal_path) as book, progress(verdict.plan, live=live) as watch:
            rehearsal = rehearse(
                verdict.plan,
                verdict.profiles,
                str(path),
                seed=scatter_seed,
                faults=faults,
                real_time=live,
                journal=book,
                watch=watch,
                taps=Taps(taps),
                results=results == "drawn",
                tried=Tried(trials, capture=capture),
            )
    except LauncherError as failed:
        refuse(Exit.LAUNCHER, [failed.diagnostic], output_format)
    except FeedscriptError as failed:  # the journal
        refuse(Exit.PROGRAM, [failed.diagnostic], output_format)
    _show(rehearsal, verdict, output_format)
    leave(Exit.FINE if rehearsal.ending.finished else Exit.LAUNCHER)


def _kept(path: Path | None) -> AbstractContextManager[Journal | None]:
    """The journal to write into, if any. Raises FeedscriptError."""
    from feedscript.journal.store import open_journal

    return nullcontext() if path is None else closing(open_journal(path))


def _show(rehearsal: Rehearsal, verdict: Verdict, output_format: str) -> None:
    from feedscript.terminal import rehearsal_report

    if output_format == "json":
        print_json(rehearsal_report.as_json(rehearsal, verdict))
        return
    assert verdict.plan is not None
    print_diagnostics(verdict.diagnostics, verdict.sources)
    rehearsal_report.show(rehearsal, verdict.plan)
    print_diagnostics(rehearsal.ending.diagnostics, {})
