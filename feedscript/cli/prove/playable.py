"""``feedscript playable``: which programs may be played on which launchers."""

from __future__ import annotations

import csv
import io
import string
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from feedscript.cli.names import PROGRAM, ProfileFile
from feedscript.cli.options import format_option, library_option, out_option
from feedscript.cli.output import (
    Exit,
    leave,
    print_diagnostics,
    print_json,
    refuse,
    tell,
    writing,
)
from feedscript.cli.progress import watched
from feedscript.cli.prove.on_cluster import cluster_options, workers
from feedscript.diagnostics import as_json, has_errors
from feedscript.formats import headed
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.own_library import library_folder, own_programs
from feedscript.review.report.export import cell as safe_cell
from feedscript.shipped import files_in, program_path, shipped_profiles, shipped_programs
from feedscript.visible import on_one_line

if TYPE_CHECKING:
    from feedscript.check.in_pieces.cluster import Wanted
    from feedscript.check.on_launchers import Cell, Row

#: What stands in a cell of a program that may be played there.
_YES = "ok"
_MOST_LAUNCHERS = len(string.ascii_uppercase)


@click.command()
@click.argument("paths", nargs=-1, metavar="[PATH…]", type=PROGRAM)
@click.option(
    "--launcher",
    "launchers",
    type=ProfileFile(),
    multiple=True,
    help="The launcher's profile, a file, club/NAME or a shipped one by its name; once for each, "
    "without it every shipped one.",
)
@library_option
@out_option("the table, .csv.")
@cluster_options
@format_option
def command(
    paths: tuple[str, ...],
    launchers: tuple[Path, ...],
    library: Path | None,
    out: Path | None,
    wanted: Wanted | None,
    output_format: str,
) -> None:
    """Judge each program at PATH (files, names or folders) with each launcher: a table.

    Without PATH: every program that comes with feedscript, and all of your own library. The profile
    stands in for every launcher that a program names. Exits 0 when every program may be played on
    one launcher at least.
    """
    if out is not None and out.suffix != ".csv":
        raise click.UsageError("-o writes a table that ends in .csv")
    profiles = _profiles(launchers or tuple(shipped_profiles().values()), output_format)
    programs = _programs(paths, library)
    from feedscript.check.on_launchers import verdicts

    with workers(wanted, output_format) as others:
        rows = verdicts(programs, profiles, library, others, watched)
    if out is not None:
        with writing(out):
            out.write_text(_table(rows, list(profiles)), encoding="utf-8", newline="")
    if output_format == "json":
        plain = {"ok": _ok(rows), "launchers": list(profiles), "programs": _plain(rows)}
        print_json(headed("playable", plain))
    else:
        _tell(rows, list(profiles))
    leave(Exit.FINE if _ok(rows) else Exit.PROGRAM)


def _ok(rows: Sequence[Row]) -> bool:
    return all(row.playable for row in rows)


def _profiles(paths: Sequence[Path], output_format: str) -> Mapping[str, Profile]:
    """Every profile by its file's name; one that is in error is in no table."""
    found: dict[str, Profile] = {}
    for path in paths:
        reading = read_profile(path)
        if reading.profile is None or has_errors(reading.diagnostics):
            sources = {reading.source: reading.text}
            refuse(Exit.PROGRAM, reading.diagnostics, output_format, sources)
        if path.stem in found:
            raise click.UsageError(f"--launcher: two are called {path.stem}; rename one")
        found[path.stem] = reading.profile
    if len(found) > _MOST_LAUNCHERS:
        raise click.UsageError(f"--launcher: {_MOST_LAUNCHERS} are the most that a table shows")
    return found


def _programs(names: Sequence[str], library: Path | None) -> Mapping[str, Path]:
    if not names:
        return shipped_programs() | own_programs(library_folder(library))
    found: dict[str, Path] = {}
    for name in names:
        path = program_path(name, library)
        inside = files_in(path)
        if not inside:
            raise click.UsageError(f"{path} holds no program: there is nothing to judge")
        found |= {name: path} if inside == [path] else {str(one): one for one in inside}
    return found


def _tell(rows: Sequence[Row], launchers: Sequence[str]) -> None:
    """One letter a launcher, one number a kind of refusal: it fits a terminal."""
    letters = dict(zip(launchers, string.ascii_uppercase, strict=False))
    many = Counter(_slug(cell) for row in rows for cell in row.cells if not cell.ok)
    kinds = {slug: str(number) for number, (slug, _) in enumerate(many.most_common(), 1)}
    names = [on_one_line(row.program) for row in rows]
    width = max(map(len, names))
    lines = [f"{'':<{width}}  " + "".join(f"{letter:>3}" for letter in letters.values())]
    for name, row in zip(names, rows, strict=True):
        marks = (_YES if cell.ok else kinds[_slug(cell)] for cell in row.cells)
        told = "".join(f"{mark:>3}" for mark in marks) if row.cells else "  is no program"
        lines.append(f"{name:<{width}}  {told}")
    lines += ["", "launchers, and how many of the programs they may play"]
    for index, launcher in enumerate(launchers):
        plays = sum(row.cells[index].ok for row in rows if row.cells)
        lines.append(f"  {letters[launcher]}  {on_one_line(launcher)}: {plays} of {len(rows)}")
    if kinds:
        lines += ["", "refused, first of all, since (feedscript why NAME)"]
        lines += [f" {kinds[slug]:>2}  {slug}: {count}" for slug, count in many.most_common()]
    for row in rows:
        print_diagnostics(row.wrong, row.sources)
    tell("\n".join(lines))


def _slug(cell: Cell) -> str:
    return cell.errors[0][0]


def _plain(rows: Sequence[Row]) -> list[dict[str, Any]]:
    return [
        {
            "program": row.program,
            "diagnostics": [as_json(one) for one in row.wrong],
            "verdicts": [
                {"launcher": cell.launcher, "ok": cell.ok}
                | {"errors": [{"slug": slug, "message": said} for slug, said in cell.errors]}
                for cell in row.cells
            ],
        }
        for row in rows
    ]


def _table(rows: Sequence[Row], launchers: Sequence[str]) -> str:
    written = io.StringIO()
    table = csv.writer(written)
    table.writerow(["program", *map(safe_cell, launchers)])
    table.writerows([safe_cell(row.program), *_marks(row, launchers)] for row in rows)
    return written.getvalue()


def _marks(row: Row, launchers: Sequence[str]) -> Iterator[str]:
    """Each cell in full; of what is no program, why."""
    if not row.cells:
        yield from [" ".join(one.slug for one in row.wrong)] * len(launchers)
    for cell in row.cells:
        yield _YES if cell.ok else " ".join(slug for slug, _ in cell.errors)
