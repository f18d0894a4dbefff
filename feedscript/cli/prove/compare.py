"""``feedscript compare``: one lesson as planned, as rehearsed and as it was, ball by ball."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    FILE,
    OF_THE_PROGRAM,
    capture_option,
    fault_option,
    format_option,
    journal_option,
    junit_option,
    launcher_option,
    library_option,
    out_option,
    results_option,
    scatter_seed_option,
    seed_option,
)
from feedscript.cli.output import Exit, leave, print_json, refuse, tell, writing
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.launcher.port import LauncherError
from feedscript.plan.model import Plan
from feedscript.shipped import program_path
from feedscript.told_units import ball_words

if TYPE_CHECKING:
    from feedscript.bench.differences import Comparison
    from feedscript.bench.record import Record
    from feedscript.bench.tolerances import Tolerances

_PICTURES = (".svg", ".png", ".html")


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What the command line asked for."""

    base: str
    with_rehearsal: bool
    lessons: tuple[int, ...]
    capture: tuple[Path, ...]
    landings: Path | None
    journal_path: Path
    scatter_seed: int
    faults: tuple[str, ...]
    results: str


@click.command()
@click.argument("file", type=PROGRAM)
@click.option(
    "--against",
    "base",
    type=click.Choice(["plan", "rehearsal"]),
    default="plan",
    show_default=True,
    help="What the others are held to: the plan as it is written, or a fresh rehearsal.",
)
@click.option(
    "--rehearsal",
    "with_rehearsal",
    is_flag=True,
    help="Compare a rehearsal; also where nothing else is named.",
)
@click.option("--lesson", "lessons", type=int, multiple=True,
              help="The lesson of this number, to be compared; once for each.")  # fmt: skip
@capture_option("compare what crossed the link; once for each launcher.", multiple=True)
@click.option(
    "--landings",
    type=FILE,
    help="Measured balls, to be compared: a table (CSV).",
)
@click.option("--tolerances", type=FILE, help="How far fields may be apart, a TOML file.")
@junit_option
@out_option("a picture of where they part (.svg, .png or .html).", piped=".svg")
@results_option
@scatter_seed_option
@fault_option
@journal_option()
@launcher_option(OF_THE_PROGRAM)
@library_option
@seed_option
@format_option
def command(
    file: str,
    out: Path | None,
    tolerances: Path | None,
    junit_file: Path | None,
    launcher: Path | None,
    library: Path | None,
    seed: int | None,
    output_format: str,
    **words: Any,
) -> None:
    """Compare FILE's lesson ball by ball: its plan with a rehearsal, a lesson of the journal, a
    capture, or measured landings.

    What a ball was set to, when it left after the ball before, where it landed, how fast it was,
    whose it was and whether it left; calls and ending of the lesson. Exits 0 only where nothing
    parts beyond the tolerances and there was something to compare.
    """
    if out is not None and out.suffix not in _PICTURES:
        raise click.UsageError(f"{out}: a picture is one of {', '.join(_PICTURES)}")
    path = program_path(file, library)
    verdict = check_program(path, Options(launcher=launcher, seed=seed, library=library))
    if not verdict.ok or verdict.plan is None:
        refuse(Exit.PROGRAM, verdict.diagnostics, output_format, verdict.sources)
    from feedscript.bench.differences import compare

    allowed = _allowed(tolerances, output_format)
    try:
        base, *others = _records(Asked(**words), verdict, verdict.plan, path)
    except LauncherError as failed:
        refuse(Exit.LAUNCHER, [failed.diagnostic], output_format)
    except FeedscriptError as failed:
        refuse(Exit.PROGRAM, [failed.diagnostic], output_format)
    found = [compare(base, other, allowed) for other in others]
    if junit_file is not None:
        _write_junit(junit_file, found)
    if out is not None:
        _draw(out, found, verdict.plan, output_format)
    ok = all(one.same for one in found)
    if output_format == "json":
        comparisons = [_plain(one) for one in found]
        print_json(headed("compare", {"ok": ok, "comparisons": comparisons}))
    else:
        for one in found:
            _tell(one, verdict.plan)
    leave(Exit.FINE if ok else Exit.PROGRAM)


def _allowed(file: Path | None, output_format: str) -> Tolerances:
    from feedscript.bench.tolerances import USUAL, read_tolerances

    if file is None:
        return USUAL
    reading = read_tolerances(file)
    if reading.value is None:
        refuse(Exit.PROGRAM, reading.diagnostics, output_format, {str(file): reading.text})
    return reading.value


def _records(asked: Asked, verdict: Verdict, plan: Plan, path: Path) -> Iterator[Record]:
    """What the others are held to, then each of them."""
    from feedscript.bench.sides import captured, journalled, planned, rehearsed
    from feedscript.journal.store import read_journal

    def rehearsal(seed: int, faults: tuple[str, ...]) -> Record:
        return rehearsed(
            plan,
            verdict.profiles,
            str(path),
            seed=seed,
            faults=faults,
            results=asked.results == "drawn",
        )

    own = asked.lessons or asked.capture or asked.landings is not None
    yield planned(plan, str(path)) if asked.base == "plan" else rehearsal(asked.scatter_seed, ())
    if asked.with_rehearsal or not own:
        yield rehearsal(asked.scatter_seed, asked.faults)
    if asked.lessons:
        journal = read_journal(asked.journal_path)
        try:
            for number in asked.lessons:
                yield journalled(journal, number)
        finally:
            journal.close()
    if asked.capture:
        if len(asked.capture) != len(plan.launchers):
            raise click.UsageError(
                f"the program has {len(plan.launchers)} launchers: give --capture for each"
            )
        yield captured(asked.capture, plan)
    if asked.landings is not None:
        yield _measured(asked.landings, verdict, plan)


def _measured(path: Path, verdict: Verdict, plan: Plan) -> Record:
    from feedscript.bench.sides import measured
    from feedscript.launcher.tuning.landings_file import read_landings

    reading = read_landings(path, verdict.profiles[0])
    if reading.shots is None:
        raise FeedscriptError(reading.diagnostics[0])
    return measured(reading.shots, plan, str(path))


def _write_junit(path: Path, found: list[Comparison]) -> None:
    from feedscript.bench.junit import junit

    with writing(path):
        write_private(path, junit(found))


def _draw(out: Path, found: list[Comparison], plan: Plan, output_format: str) -> None:
    """Of several comparisons a picture each: OUT, OUT-2 …"""
    from feedscript.bench.picture import parting_picture
    from feedscript.court.lines import COURTS
    from feedscript.review.drawing.files import draw

    names = [one.name for one in plan.launchers]
    for number, one in enumerate(found, start=1):
        name = out if number == 1 else out.with_name(f"{out.stem}-{number}{out.suffix}")
        drawn = parting_picture(one, COURTS[plan.court.kind], names)
        data = draw(drawn, "Where they part", out.suffix, 1400)
        if isinstance(data, Diagnostic):
            refuse(Exit.USAGE, [data], output_format)
        with writing(name):
            write_private(name, data)


def _plain(one: Comparison) -> dict[str, object]:
    return {
        "left": one.left,
        "right": one.right,
        "same": one.same,
        "balls": len(one.pairs),
        "compared": list(one.compared),
        "differences": msgspec.to_builtins(one.differences),
    }


def _tell(one: Comparison, plan: Plan) -> None:
    from feedscript.bench.differences import told

    tell(f"{one.left}\n  beside {one.right}", bold=True)
    names = [launcher.name for launcher in plan.launchers]
    for part in one.differences:
        tell(f"  {told(part, names)}")
    if not one.compared:
        tell("  they know nothing in common: nothing was compared", fg="red")
        return
    parted = sum(bool(pair.parted) for pair in one.pairs)
    words = f"{ball_words(len(one.pairs))}, {parted} part" if one.differences else "the same"
    more = "" if one.differences else f" in {ball_words(len(one.pairs))}"
    tell(f"  {words}{more}; compared: {', '.join(one.compared)}",
         fg="green" if one.same else "red")  # fmt: skip
