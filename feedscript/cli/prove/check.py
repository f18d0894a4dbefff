"""``feedscript check``: is the program right, and is every ball it can ever send safe?

A season's file is checked too: its own words, and every program that it names.
"""

from __future__ import annotations

import itertools
import os
from contextlib import closing, nullcontext
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import click

from feedscript.check.as_text import report, sample_report
from feedscript.check.check_program import SEASON_FILE, Options, Verdict, check_program
from feedscript.check.hour import OwnCollects
from feedscript.cli.names import PROGRAM_OR_SEASON
from feedscript.cli.options import (
    OF_THE_PROGRAM,
    draw_seed_option,
    format_option,
    launcher_option,
    library_option,
    out_option,
)
from feedscript.cli.output import Exit, leave, print_diagnostics, print_json, tell, writing
from feedscript.cli.progress import watched
from feedscript.cli.prove.on_cluster import cluster_options, workers
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.memo import Memo
from feedscript.own_library import SEASON_ENDING
from feedscript.plain_file import STANDARD_INPUT
from feedscript.shipped import PROGRAM_ENDING, files_in, program_path, season_path
from feedscript.visible import on_one_line

if TYPE_CHECKING:
    from feedscript.check.in_pieces.cluster import Wanted
    from feedscript.check.in_pieces.work import Workers
    from feedscript.check.sample import Sample
    from feedscript.check.season import SeasonVerdict


@click.command(name="check")
@click.argument("files", type=PROGRAM_OR_SEASON, nargs=-1, required=True, metavar="FILE…")
@launcher_option(OF_THE_PROGRAM)
@library_option
@click.option("--certificate", is_flag=True, help="Print the whole certificate.")
@out_option("the certificate of one FILE, .html, .json or .txt.", piped=".json")
@click.option(
    "--sample",
    "runs",
    type=click.IntRange(min=1),
    metavar="N",
    help="Draw N whole runs with scatter and hold them against the certificate.",
)
@draw_seed_option("without it, 1")
@cluster_options
@format_option
def command(
    files: tuple[str, ...],
    launcher: Path | None,
    library: Path | None,
    certificate: bool,
    out: Path | None,
    runs: int | None,
    draw_seed: int | None,
    wanted: Wanted | None,
    output_format: str,
) -> None:
    """Check programs: language, reach, timing and safety; show the worst case.

    FILE may be a folder: all programs and seasons in it. A season's file is one verdict on its own
    words and on every program that it names.

    With several files or a folder, JSON is one object with `ok` and `files`, each with its `file`.
    Exits 0 when all passed, 1 when one is refused, an expectation is known not to hold, or a sample
    disagrees with its certificate.
    """
    names = _names(files)
    alone = names == [files[0]]
    if out is not None and not alone:
        raise click.UsageError("-o writes the certificate of one FILE")
    if wanted is not None and runs is None:
        raise click.UsageError("--cluster is for --sample")
    options = Options(launcher=launcher, library=library, own_collects=cache(_own_collects))
    with workers(wanted, output_format) as others:
        seed = 1 if draw_seed is None else draw_seed
        memo = Memo()  # what files have in common is worked out once: the profile above all
        shown = names if alone else watched("programs", names, len(names))
        trials = [_tried(name, options, memo, runs, seed, others) for name in shown]
    for name, verdict, _ in trials:
        if not isinstance(verdict, Verdict) and (certificate or runs is not None or out):
            only = "--certificate, --sample and -o are for a program"
            raise click.UsageError(f"{name} is a season: {only}, one of those that it names")
    if out is not None:
        _write(out, trials[0][1])
    if output_format == "json":
        print_json(_json(trials, certificate, alone=alone))
    else:
        for trial in trials:
            _print(*trial, whole=certificate, runs=runs)
        if not alone:
            _sum_up(trials)
    leave(Exit.FINE if all(map(_is_fine, trials)) else Exit.PROGRAM)


def _names(files: tuple[str, ...]) -> list[str]:
    """The files that are meant: a folder means what it holds."""
    names: list[str] = []
    for name in files:
        if os.path.isdir(name):
            found = files_in(Path(name), (PROGRAM_ENDING, SEASON_ENDING))
            if not found:
                raise click.UsageError(f"{name} holds no program and no season")
            names += map(str, found)
        else:
            names.append(name)
    return list(dict.fromkeys(names))


def _sum_up(trials: list[Trial]) -> None:
    """One line on many, so that nobody has to scroll back for the one that was refused."""
    wrong = [name for name, *_ in itertools.filterfalse(_is_fine, trials)]
    tell("")
    if not wrong:
        tell(f"{len(trials)} checked, all are fine.", fg="green")
        return
    tell(
        f"{len(wrong)} of {len(trials)} are not fine: {', '.join(map(on_one_line, wrong))}",
        fg="red",
    )


def _own_collects() -> OwnCollects | None:
    """How long the coach's own collects took, where there is a journal that says. A database is
    opened, and much else imported, for it."""
    from feedscript.journal.store import default_journal_path, open_journal

    path = default_journal_path()
    if not path.exists():
        return None
    from feedscript.session.state.own_collects import own_collects

    try:
        with closing(open_journal(path)) as journal:
            return own_collects(journal)
    except FeedscriptError:
        return None  # a check needs no journal


Trial: TypeAlias = "tuple[str, Verdict | SeasonVerdict, Sample | None]"


def _is_fine(trial: Trial) -> bool:
    _, verdict, drawn = trial
    passed = verdict.as_expected if isinstance(verdict, Verdict) else verdict.ok
    return passed and (drawn is None or drawn.agrees)


def _tried(
    name: str,
    options: Options,
    memo: Memo,
    runs: int | None,
    seed: int,
    others: Workers | None,
) -> Trial:
    path = program_path(name, options.library)
    if path != STANDARD_INPUT and not os.path.lexists(path):
        path = season_path(name, options.library)
    name = str(path) if path == STANDARD_INPUT else name
    verdict = check_program(path, options, memo=memo)
    if SEASON_FILE.slug in {one.slug for one in verdict.diagnostics}:
        from feedscript.check.season import check_season

        return name, check_season(path, options, memo=memo), None
    if runs is None or verdict.plan is None or verdict.facts is None:
        return name, verdict, None
    from feedscript.check.in_pieces.cores import cores, shared
    from feedscript.check.sample import sample
    from feedscript.plan.folds.size import MOST_DRAWN, MOST_DRAWN_ON_CLUSTER, most_runs

    most = most_runs(verdict.plan, MOST_DRAWN if others is None else MOST_DRAWN_ON_CLUSTER)
    if runs > most:
        balls = verdict.plan.bounds.balls[1]
        message = f"{runs} runs of up to {balls} balls would take long: {most} are the most"
        raise click.UsageError(f"--sample: {message}")
    with nullcontext(others) if others is not None else shared(cores() - 1) as who:
        return name, verdict, sample(verdict.facts, runs, seed, who, watched)


def _json(trials: list[Trial], certificate: bool, *, alone: bool) -> dict[str, Any]:
    each = [_one_json(trial, certificate) for trial in trials]
    if alone:
        return each[0]
    names = [name for name, _, _ in trials]
    files = [{"file": name} | one for name, one in zip(names, each, strict=True)]
    return headed("check-several", {"ok": all(one["ok"] for one in each), "files": files})


def _one_json(trial: Trial, certificate: bool) -> dict[str, Any]:
    from feedscript.check.as_json import certificate_json, sample_json, verdict_json

    _, verdict, drawn = trial
    if not isinstance(verdict, Verdict):
        from feedscript.check.season_text import season_json

        return season_json(verdict)
    found = verdict_json(verdict)
    if certificate:
        found["certificate"] = certificate_json(verdict)
    if drawn is not None:
        found["sample"] = sample_json(drawn)
    return found


def _print(
    name: str,
    verdict: Verdict | SeasonVerdict,
    drawn: Sample | None,
    *,
    whole: bool,
    runs: int | None,
) -> None:
    print_diagnostics(verdict.diagnostics, verdict.sources)
    if not isinstance(verdict, Verdict):
        from feedscript.check.season_text import season_report

        tell(season_report(verdict, name))
        return
    tell(report(verdict, name))
    if whole and verdict.certificate is not None:
        from feedscript.check.certificate_text import page

        tell("\n" + page(verdict.certificate, _title(verdict)))
    if drawn is not None:
        tell("\n" + sample_report(drawn))
    elif runs is not None:
        tell("\nNo runs were drawn: only a program that passed has any.")


def _title(verdict: Verdict) -> str:
    return verdict.program.title if verdict.program is not None else ""


def _write(out: Path, verdict: Verdict | SeasonVerdict) -> None:
    """The certificate's page, by the file's ending."""
    assert isinstance(verdict, Verdict)
    from feedscript.check.certificate_file import ENDINGS, page_for

    if out.suffix not in ENDINGS:
        raise click.UsageError(f"-o takes a file that ends in {', '.join(ENDINGS)}")
    if verdict.certificate is None:
        tell(f"no certificate to write to {out}: nothing could be judged", error=True)
        return
    with writing(out):
        out.write_text(page_for(out.suffix, verdict), encoding="utf-8")
