"""``feedscript baseline``: keep what programs are, and hold them to it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import msgspec

from feedscript.bench import baseline as bench
from feedscript.bench.baseline import Change, Document
from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.cli.names import PROGRAM
from feedscript.cli.options import (
    FOLDER,
    OF_THE_PROGRAM,
    format_option,
    launcher_option,
    library_option,
    out_option,
)
from feedscript.cli.output import Exit, answer, leave, print_json, refuse, tell, writing
from feedscript.cli.progress import watched
from feedscript.diagnostics import Diagnostic
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.host.whole_file import replace_whole
from feedscript.memo import Memo
from feedscript.shipped import files_in, program_path

kept_option = click.option(
    "--kept",
    type=FOLDER,
    default=Path("baseline"),
    show_default=True,
    help="The folder of what was kept; put it under version control.",
)


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """One program beside what was kept of it."""

    name: str
    now: Document | None  # None: there is no such program any more
    was: Document | None  # None: nothing was kept
    verdict: Verdict | None = None

    @property
    def changes(self) -> tuple[Change, ...]:
        if self.now is None:
            return (Change("program", "kept", None),)
        if self.was is None:
            return (Change("program", None, "not kept"),)
        return bench.changes(self.was, self.now)


@click.group()
def command() -> None:
    """Keep what programs are (bounds, settings, clearances, every rule's worst case), and hold them
    to it across versions of feedscript, profiles and rules."""


@command.command()
@click.argument("paths", type=PROGRAM, nargs=-1, required=True, metavar="PATH…")
@kept_option
@launcher_option(OF_THE_PROGRAM)
@library_option
@format_option
def keep(
    paths: tuple[str, ...],
    kept: Path,
    launcher: Path | None,
    library: Path | None,
    output_format: str,
) -> None:
    """Write down what each program at PATH is now, if nothing is kept of it yet."""
    options = Options(launcher=launcher, library=library)
    files: dict[str, bool] = {}
    told: list[str] = []
    for name, path in _watched(paths, library):
        file = kept / f"{name}.json"
        files[str(file)] = not file.exists()
        if file.exists():
            told.append(f"{name}: is kept already; `feedscript baseline hold` tells what changed")
            continue
        with writing(file):
            file.parent.mkdir(parents=True, exist_ok=True)
            write_private(file, bench.written(bench.document_of(check_program(path, options))))
        told.append(f"{name}: kept in {file}")
    plain = headed("baseline-keep", {"ok": True, "written": files})
    answer(output_format, plain, "\n".join(told))


@command.command()
@click.argument("paths", type=PROGRAM, nargs=-1, required=True, metavar="PATH…")
@kept_option
@out_option("a picture of each program that changed, into this folder", kind=FOLDER)
@launcher_option(OF_THE_PROGRAM)
@library_option
@format_option
def hold(
    paths: tuple[str, ...],
    kept: Path,
    out: Path | None,
    launcher: Path | None,
    library: Path | None,
    output_format: str,
) -> None:
    """Hold each program at PATH to what was kept: exits 1 where anything is not what it was, where
    nothing was kept of a program, and where one that was kept is not there."""
    found = list(_held(paths, kept, Options(launcher=launcher, library=library), output_format))
    if out is not None:
        for one in found:
            if one.changes and one.was is not None and one.now is not None:
                _draw(out, one)
    ok = not any(one.changes for one in found)
    if output_format == "json":
        programs = [_plain(one) for one in found]
        print_json(headed("baseline-hold", {"ok": ok, "programs": programs}))
    else:
        for one in found:
            _tell(one)
        parted = sum(bool(one.changes) for one in found)
        words = f"{parted} of {len(found)} not as kept" if parted else f"{len(found)} as kept"
        tell(words, fg="green" if ok else "red")
    leave(Exit.FINE if ok else Exit.PROGRAM)


@command.command()
@click.argument("file", type=PROGRAM)
@click.argument("places", nargs=-1, metavar="[PLACE]…")
@kept_option
@launcher_option(OF_THE_PROGRAM)
@library_option
@format_option
def accept(
    file: str,
    places: tuple[str, ...],
    kept: Path,
    launcher: Path | None,
    library: Path | None,
    output_format: str,
) -> None:
    """Take over what changed in FILE: each PLACE as `hold` names it, with all that
    lies in it, or everything where none is named."""
    options = Options(launcher=launcher, library=library)
    one = next(_held((file,), kept, options, output_format), None)
    if one is None or one.now is None or one.was is None:
        raise click.UsageError(f"nothing is kept of {file}: `feedscript baseline keep` does that")
    try:
        taken = bench.accepted(one.was, one.now, places)
    except KeyError as unknown:
        raise click.UsageError(f"nothing changed at {unknown.args[0]!r}") from unknown
    place = kept / f"{one.name}.json"
    with writing(place):
        replace_whole(place, bench.written(taken))
    left = len(bench.changes(taken, one.now))
    took = len(one.changes) - left
    answer(
        output_format,
        headed("baseline-accept", {"ok": True, "program": one.name, "taken": took, "left": left}),
        f"{one.name}: {took} changes taken over, {left} left",
    )


def _programs(paths: tuple[str, ...], library: Path | None) -> Iterator[tuple[str, Path]]:
    """Each program by the name it is kept under: its place in the folder that was given."""
    for given in paths:
        place = program_path(given, library)
        programs = files_in(place)
        if not programs:
            raise click.UsageError(f"{place} holds no program")
        for path in programs:
            inside = path.relative_to(place) if place.is_dir() else Path(path.name)
            yield inside.with_suffix("").as_posix(), path


def _watched(paths: tuple[str, ...], library: Path | None) -> Iterator[tuple[str, Path]]:
    programs = list(_programs(paths, library))
    yield from watched("programs", programs, len(programs))


def _held(
    paths: tuple[str, ...], kept: Path, options: Options, output_format: str
) -> Iterator[Held]:
    names, memo = set(), Memo()
    for name, path in _watched(paths, options.library):
        names.add(name)
        file = kept / f"{name}.json"
        was = bench.read_baseline(file) if file.exists() else None
        if isinstance(was, Diagnostic):
            refuse(Exit.PROGRAM, [was], output_format)
        verdict = check_program(path, options, memo=memo)
        yield Held(name=name, was=was, now=bench.document_of(verdict), verdict=verdict)
    if any(program_path(given, options.library).is_dir() for given in paths):
        for file in sorted(kept.rglob("*.json")):
            name = file.relative_to(kept).with_suffix("").as_posix()
            if name not in names:
                yield Held(name=name, was={}, now=None)


def _draw(out: Path, one: Held) -> None:
    from feedscript.bench.differences import compare
    from feedscript.bench.picture import parting_picture
    from feedscript.bench.tolerances import EXACT
    from feedscript.court.lines import COURTS
    from feedscript.review.drawing.svg import write

    assert one.verdict is not None
    assert one.was is not None
    assert one.now is not None
    plan = one.verdict.plan or one.verdict.draft
    if plan is None:
        return
    was, now = bench.as_record(one.was, "as it was kept"), bench.as_record(one.now, "as it is now")
    names = [launcher.name for launcher in plan.launchers]
    drawn = parting_picture(compare(was, now, EXACT), COURTS[plan.court.kind], names, "feed")
    file = out / f"{one.name}.svg"
    with writing(file):
        file.parent.mkdir(parents=True, exist_ok=True)
        write_private(file, write(drawn).encode())


def _plain(one: Held) -> dict[str, object]:
    made = bench.made_with(one.was, one.now) if one.was and one.now else ()
    return {
        "program": one.name,
        "changes": msgspec.to_builtins(one.changes),
        "made_with": msgspec.to_builtins(made),
    }


def _tell(one: Held) -> None:
    if not one.changes:
        return
    tell(one.name, bold=True)
    for change in one.changes:
        tell(f"  {change}")
    if one.was and one.now:
        for change in bench.made_with(one.was, one.now):
            tell(f"  (made with) {change}")
