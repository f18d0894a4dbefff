"""``feedscript touched``: what programs leave untried."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    faults_option,
    format_option,
    launcher_option,
    library_option,
    named_option,
)
from feedscript.cli.output import Exit, leave, print_json, refuse, tell
from feedscript.cli.progress import watched
from feedscript.cli.prove.named_faults import chosen
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.shipped import files_in, program_path

if TYPE_CHECKING:
    from feedscript.bench.touched import Touched
    from feedscript.launcher.trials.trial import Trial


@click.command()
@click.argument("paths", type=PROGRAM, nargs=-1, required=True, metavar="PATH…")
@click.option(
    "--with-faults",
    is_flag=True,
    help="Rehearse each program with each named fault too.",
)
@faults_option("without it, the forty that come with feedscript")
@named_option
@click.option(
    "--least",
    type=click.IntRange(0, 100),
    default=0,
    show_default=True,
    metavar="PERCENT",
    help="Exit 1 where less than this share of anything was touched.",
)
@launcher_option(OF_THE_PROGRAM)
@library_option
@format_option
def command(
    paths: tuple[str, ...],
    with_faults: bool,
    faults_file: Path | None,
    named: tuple[str, ...],
    least: int,
    launcher: Path | None,
    library: Path | None,
    output_format: str,
) -> None:
    """Say which rules, phases of a lesson, transitions, launcher's states and words of the wire
    the programs at PATH (files, shipped names or folders) touch, checked and rehearsed; and which
    they leave untried.

    Programs that the check refuses are counted for the rules alone. Exits 1 only below --least.
    """
    places = [one for path in paths for one in files_in(program_path(path, library))]
    if not places:
        raise click.UsageError(f"{paths[0]} holds no program: there is nothing to look at")
    wanted = with_faults or faults_file is not None or bool(named)
    trials = chosen(faults_file, named, output_format) if wanted else ()
    options = Options(launcher=launcher, library=library)
    verdicts = [(path, check_program(path, options)) for path in dict.fromkeys(places)]
    from feedscript.bench.touched import together

    try:
        steps = _steps(verdicts, trials)
        found = together(step() for step in watched("rehearsals", steps, len(steps)))
    except FeedscriptError as trouble:
        refuse(Exit.PROGRAM, [trouble.diagnostic], output_format)
    ok = all(100 * one.share >= least for one in found)
    if output_format == "json":
        kinds = [_plain(one) for one in found]
        print_json(headed("touched", {"ok": ok, "programs": len(verdicts), "touched": kinds}))
    else:
        _tell(found, least)
    leave(Exit.FINE if ok else Exit.PROGRAM)


def _steps(
    verdicts: Sequence[tuple[Path, Verdict]], trials: Sequence[Trial]
) -> list[Callable[[], tuple[Touched, ...]]]:
    """Each check, each rehearsal, each with a fault that is for the program."""
    return list(_each(verdicts, trials))


def _each(
    verdicts: Sequence[tuple[Path, Verdict]], trials: Sequence[Trial]
) -> Iterator[Callable[[], tuple[Touched, ...]]]:
    from functools import partial

    from feedscript.bench.touched import by_checking, by_rehearsing
    from feedscript.bench.trials.hold_trials import not_for

    for path, verdict in verdicts:
        yield partial(by_checking, verdict)
        if not verdict.ok or verdict.plan is None:
            continue
        yield partial(by_rehearsing, verdict, str(path))
        for trial in trials:
            if not not_for(verdict.plan, trial):
                yield partial(by_rehearsing, verdict, str(path), trial)


def _plain(one: Touched) -> dict[str, object]:
    return {
        "kind": one.kind,
        "share": round(one.share, 4),
        "touched": [name for name in one.known if name in one.touched],
        "untouched": list(one.untouched),
    }


#: So many names are told of a kind; JSON has them all.
_SHOWN = 12


def _tell(found: Sequence[Touched], least: int) -> None:
    for one in found:
        count = f"{len(one.known) - len(one.untouched)} of {len(one.known)}"
        enough = 100 * one.share >= least
        tell(f"{one.kind:<22} {count:>10}", fg=None if enough else "red", bold=True)
        names = ", ".join(one.untouched[:_SHOWN])
        more = len(one.untouched) - _SHOWN
        if names:
            tell(f"  untried: {names}" + (f" and {more} more" if more > 0 else ""))
