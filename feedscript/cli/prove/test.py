"""``feedscript test``: run what programs expect of themselves."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from feedscript.check.check_program import Options
from feedscript.check.expected import UNMET, Met
from feedscript.check.in_pieces.cores import cores
from feedscript.check.testing import Asked, Tested, prepare
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    draw_seed_option,
    format_option,
    junit_option,
    launcher_option,
    library_option,
    strict_option,
)
from feedscript.cli.output import Exit, leave, print_diagnostics, print_json, tell, writing
from feedscript.cli.progress import watched
from feedscript.cli.prove.on_cluster import cluster_options, workers
from feedscript.diagnostics import as_json
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.plan.expect.outcome import ExpectationStanding, Outcome
from feedscript.plan.folds.size import MOST_DRAWS
from feedscript.shipped import files_in, program_path
from feedscript.visible import on_one_line

if TYPE_CHECKING:
    from feedscript.check.in_pieces.cluster import Wanted

_COLOURS = {
    ExpectationStanding.PASSES: "green",
    ExpectationStanding.FAILS: "red",
    ExpectationStanding.INCONCLUSIVE: "yellow",
    ExpectationStanding.UNTESTED: "yellow",
}


@click.command()
@click.argument("paths", type=PROGRAM, nargs=-1, required=True, metavar="PATH…")
@click.option("--draws", type=click.IntRange(1, MOST_DRAWS), default=2000, show_default=True,
              help="Balls drawn for each percentage.")  # fmt: skip
@draw_seed_option("without it, each plan's own")
@junit_option
@click.option("--jobs", type=click.IntRange(1), help="Processes at once; else one for each core.")
@strict_option
@cluster_options
@launcher_option(OF_THE_PROGRAM)
@library_option
@format_option
def command(
    paths: tuple[str, ...],
    draws: int,
    draw_seed: int | None,
    junit_file: Path | None,
    jobs: int | None,
    strict: bool,
    wanted: Wanted | None,
    launcher: Path | None,
    library: Path | None,
    output_format: str,
) -> None:
    """Check each program at PATH (files, shipped names or folders) and test its expectations.

    Exits 0 only when every program passed and every expectation holds: what was not decided, what
    speaks of nothing, and a program or folder with nothing to test is no success. In the JUnit
    report what was not decided is called skipped, which many a CI lets pass; with --strict it is a
    failure there too.
    """
    asked = Asked(Options(launcher=launcher, library=library), draws, draw_seed)
    places = [program_path(path, library) for path in paths]
    empty = next((place for place in places if not files_in(place)), None)
    if empty is not None:
        raise click.UsageError(f"{empty} holds no program: there is nothing to test")
    if wanted is not None and jobs is not None:
        raise click.UsageError("--jobs is for this process's own, and --cluster draws elsewhere")
    testing = prepare(places, asked)
    with workers(wanted, output_format) as others:
        found = testing.outcomes(jobs or cores()) if others is None else testing.outcomes_on(others)
        tested = testing.collected(_watched(found, len(testing.cases)))
    if junit_file is not None:
        _write_junit(junit_file, tested, strict)
    ok = all(program.ok for program in tested)
    if output_format == "json":
        programs = [_plain(program) for program in tested]
        print_json(headed("test", {"ok": ok, "programs": programs}))
    else:
        _tell(tested)
    leave(Exit.FINE if ok else Exit.PROGRAM)


def _watched(
    outcomes: Iterable[tuple[Path, int, Outcome]], most: int
) -> dict[tuple[Path, int], Outcome]:
    """Every outcome, with a bar on a terminal while they come in."""
    shown = watched("expectations", outcomes, most)
    return {(path, number): outcome for path, number, outcome in shown}


def _write_junit(path: Path, tested: Sequence[Tested], strict: bool) -> None:
    from feedscript.review.report.junit import junit

    with writing(path):
        write_private(path, junit(tested, strict=strict))


def _tell(tested: Sequence[Tested]) -> None:
    for program in tested:
        tell(on_one_line(str(program.path)), bold=True)
        # What is not met is told below, with the figures that draws add.
        found = [one for one in program.verdict.diagnostics if one.slug != UNMET.slug]
        print_diagnostics(found, program.verdict.sources)
        for met in program.met:
            _tell_one(met)
        if program.verdict.ok and not program.met:
            tell("  untested      the program expects nothing of itself: write an `expect`")
    standings = [met.outcome.standing for program in tested for met in program.met]
    counts = ", ".join(f"{standings.count(each)} {each.value}" for each in ExpectationStanding)
    refused = sum(not program.verdict.ok for program in tested)
    more = f"; {refused} of {len(tested)} programs refused" if refused else ""
    silent = sum(program.verdict.ok and not program.met for program in tested)
    more += f"; {silent} of {len(tested)} programs expect nothing" if silent else ""
    tell(f"{len(standings)} expectations: {counts}{more}")


def _tell_one(met: Met) -> None:
    outcome = met.outcome
    tell(f"  {outcome.standing.value:<12}", fg=_COLOURS[outcome.standing], end="")
    tell(f"  {met.words}  ({outcome.figure})")
    example = outcome.counter_example
    if example is not None:
        where = f"seed {example.seed}, ball {example.ball}"
        tell(f"                {where}: {example.words}")


def _plain(program: Tested) -> dict[str, object]:
    return {
        "file": str(program.path),
        "ok": program.ok,
        "diagnostics": [as_json(found) for found in program.verdict.diagnostics],
        "expectations": [_plain_one(met) for met in program.met],
    }


def _plain_one(met: Met) -> dict[str, object]:
    outcome, example = met.outcome, met.outcome.counter_example
    return {
        "expectation": met.words,
        "line": met.line,
        "standing": outcome.standing.value,
        "figure": outcome.figure,
        "interval": outcome.interval,
        "counter_example": None
        if example is None
        else {"seed": example.seed, "ball": example.ball, "what": example.words},
    }
