"""Which programs may be played on which launchers: each judged with each profile in turn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any

import msgspec

from feedscript.check.check_program import Options, check_program, text_of_file
from feedscript.check.in_pieces.pieces import LauncherAnswer, LauncherPiece
from feedscript.check.in_pieces.texts import Texts, TextsData, Used
from feedscript.check.in_pieces.watch import Watch, unwatched
from feedscript.check.in_pieces.work import Alone, Workers
from feedscript.diagnostics import Diagnostic
from feedscript.language import Program, read
from feedscript.language.resolve.loading import Loaded, NotLoaded, load_beside
from feedscript.launcher.profile.model import Profile
from feedscript.own_library import library_folder
from feedscript.shipped import shipped_folder


class Cell(msgspec.Struct, frozen=True):
    """One program on one launcher: whether it may be played, else each kind of error with its first
    message."""

    launcher: str
    ok: bool
    errors: tuple[tuple[str, str], ...]


class Row(msgspec.Struct, frozen=True):
    """One program on every launcher; none, and what is wrong with it, where it is no program."""

    program: str
    cells: tuple[Cell, ...]
    wrong: tuple[Diagnostic, ...] = ()
    sources: Mapping[str, str] = {}

    @property
    def playable(self) -> bool:
        """Whether some launcher may play it."""
        return any(cell.ok for cell in self.cells)


def verdicts(
    programs: Mapping[str, Path],
    profiles: Mapping[str, Profile],
    library: Path | None = None,
    workers: Workers | None = None,
    watch: Watch[Any] = unwatched,
) -> tuple[Row, ...]:
    """Every program with every profile, both by name, in their order.

    The same whoever the workers are and however many: this process alone without any.
    """
    texts = {name: _texts(path, library) for name, path in programs.items()}
    asked = [
        (case, LauncherPiece(name, profile))
        for case in texts.values()
        if isinstance(case, Texts)
        for name, profile in profiles.items()
    ]
    answers = iter(watch("verdicts", (workers or Alone()).answers(asked), len(asked)))
    rows = []
    for name, case in texts.items():
        if isinstance(case, Texts):
            came = islice(answers, len(profiles))
            rows.append(Row(name, tuple(_cells(profiles, came))))
        else:
            rows.append(msgspec.structs.replace(case, program=name))
    # What watches sees the end, too.
    assert next(answers, None) is None
    return tuple(rows)


def _cells(profiles: Mapping[str, Profile], answers: Iterator[object]) -> Iterator[Cell]:
    for launcher, answer in zip(profiles, answers, strict=True):
        assert isinstance(answer, LauncherAnswer)
        yield Cell(launcher, answer.ok, answer.errors)


def _texts(path: Path, library: Path | None) -> Texts | Row:
    """The program and all that it uses; a row without cells where it is none."""
    text = text_of_file(path)
    found: dict[tuple[str, str], Loaded] = {}
    where = load_beside(path, shipped_folder(), library_folder(library))

    def load(using: str, written: str) -> Loaded | NotLoaded:
        loaded = where(using, written)
        if isinstance(loaded, Loaded):
            found[using, written] = loaded
        return loaded

    if isinstance(text, str):
        program, _ = read(text, str(path), load=load)
        if isinstance(program, Program):
            used = tuple(Used(*asked, loaded) for asked, loaded in found.items())
            return Texts(TextsData(text, str(path), used))
    why = check_program(path, Options(library=library))
    return Row("", (), why.diagnostics, why.sources)
