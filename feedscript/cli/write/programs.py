"""``feedscript programs``: what there is to run or to use, a search in it, and a copy."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from feedscript import club_library
from feedscript.check.catalogue import Entry, Wanted, catalogue, matching
from feedscript.cli.copied import copied, free
from feedscript.cli.names import OFFERED
from feedscript.cli.options import FOLDER, format_option, library_option, out_option
from feedscript.cli.output import answer, tell, writing
from feedscript.club_library import CLUB
from feedscript.diagnostics import as_json
from feedscript.formats import headed
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.language.resolve.planning.suits import MOST_PLAYERS, WHO
from feedscript.own_library import SEASON_ENDING, library_folder, own_programs, own_seasons
from feedscript.shipped import shipped_programs, shipped_seasons
from feedscript.visible import on_one_line

#: What `--needs` takes for: no equipment at all.
NOTHING = "nothing"


@click.command()
@click.option("--theme", "themes", multiple=True, help="Only of this theme; several: of all.")
@click.option("--stage", type=click.Choice(WHO), help="Only for this stage or level.")
@click.option("--players", type=click.IntRange(1, MOST_PLAYERS), help="Only for so many players.")
@click.option(
    "--needs",
    multiple=True,
    help="Only with this equipment, such as cones; `nothing`: without any.",
)
@click.option(
    "--copy", "name", type=OFFERED, help="Copy this program into a folder, to make it your own."
)
@out_option("the folder to copy into; without it, this one.", kind=FOLDER)
@library_option
@format_option
def command(
    themes: tuple[str, ...],
    stage: str | None,
    players: int | None,
    needs: tuple[str, ...],
    name: str | None,
    out: Path | None,
    library: Path | None,
    output_format: str,
) -> None:
    """List the programs that come with feedscript and your own, find one, or copy one.

    Several things asked for must all be so. Your own stand as my/NAME, for `use` and for every
    command. `--copy club/NAME` copies from your club's library, `--copy club/NAME.toml` a
    launcher's profile.
    """
    folder = library_folder(library)
    if name is not None and name.startswith(CLUB):
        _copy_from_club(name, out or Path())
        return
    if name is not None:
        _copy(_all(folder), name, out or Path())
        return
    nothing = NOTHING in needs
    wanted = Wanted(
        themes=themes,
        stage=stage,
        players=players,
        needs=tuple(word for word in needs if word != NOTHING),
        nothing=nothing,
    )
    found = list(matching(catalogue(folder), wanted))
    plain = headed(
        "programs", {"library": str(folder), "programs": [_plain(entry) for entry in found]}
    )
    answer(output_format, plain, "\n".join([*_rows(found), *_about_own(folder, found)]))


def _all(folder: Path) -> dict[str, Path]:
    own = own_programs(folder) | own_seasons(folder)
    return shipped_programs() | shipped_seasons() | own


def _rows(found: Sequence[Entry]) -> list[str]:
    names = [on_one_line(entry.name) for entry in found]
    width = max(map(len, names), default=0)
    rows = [
        f"{name:<{width}}  {_words(entry)}".rstrip()
        for name, entry in zip(names, found, strict=True)
    ]
    return rows or ["nothing suits that"]


def _words(entry: Entry) -> str:
    """A program's line behind its name: its title, and what it suits."""
    if entry.fault is not None:
        span = entry.fault.span
        line = f", line {span.line}" if span is not None else ""
        name = on_one_line(entry.name)
        return f"cannot be read: {entry.fault.message}{line} (feedscript check {name})"
    title = f"season: {entry.title}" if entry.season else entry.title
    return "; ".join(part for part in (title, *_suited(entry)) if part)


def _suited(entry: Entry) -> list[str]:
    suits, found = entry.suits, []
    if entry.planned_s is not None:
        found.append(f"{entry.planned_s / 60:g} min")
    if suits.stages:
        found.append(", ".join(suits.stages))
    if suits.players is not None:
        low, high = suits.players
        many = f"{low} to {high}" if low < high else f"{low}"
        found.append(f"{many} player{'s' * (high > 1)}")
    found += [f"theme {', '.join(suits.themes)}"] if suits.themes else []
    return [*found, f"needs {', '.join(suits.needs)}"] if suits.needs else found


def _about_own(folder: Path, found: Sequence[Entry]) -> list[str]:
    if any(entry.own for entry in found):
        return [f"your own: {folder}"]
    there = "" if folder.is_dir() else " (no such folder yet)"
    return [f"none of your own; they would lie in {folder}{there}"]


def _plain(entry: Entry) -> dict[str, Any]:
    suits = entry.suits
    return {
        "name": entry.name,
        "file": str(entry.path),
        "own": entry.own,
        "season": entry.season,
        "title": entry.title,
        "minutes": None if entry.planned_s is None else entry.planned_s / 60,
        "themes": suits.themes,
        "stages": suits.stages,
        "players": suits.players,
        "needs": suits.needs,
        "fault": None if entry.fault is None else as_json(entry.fault),
    }


def _copy(programs: dict[str, Path], name: str, folder: Path) -> None:
    source = programs.get(name.removesuffix(".feed").removesuffix(SEASON_ENDING))
    if source is None:
        known = ", ".join(programs)
        raise click.UsageError(f"no program is called {name!r}; there are: {known}")
    tell(f"copied to {copied(source, folder)}")


def _copy_from_club(name: str, folder: Path) -> None:
    """What the club has approved last, verified."""
    short = name.removeprefix(CLUB).removesuffix(".feed")
    try:
        _lies, raw = club_library.read_text(club_library.club_folder(), short, MOST_BYTES)
    except club_library.LibraryError as why:
        raise click.UsageError(f"{name}: {why}") from None
    ending = "" if club_library.is_profile(short) else ".feed"
    target = free(folder / f"{short}{ending}")
    with writing(target):
        target.write_bytes(raw)
    tell(f"copied to {target}")
