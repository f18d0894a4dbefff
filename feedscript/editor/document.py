"""One open program: its text, its names, and what the check says of it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path

import msgspec

from feedscript.check.check_program import SEASON_FILE, Options, Verdict, check_program
from feedscript.check.season import check_season
from feedscript.editor.names import Names, names_of
from feedscript.language.resolve.files import Files
from feedscript.language.resolve.findings import Findings
from feedscript.language.resolve.loading import load_beside
from feedscript.language.resolve.scope import Scope
from feedscript.memo import Memo
from feedscript.own_library import library_folder
from feedscript.plan.model import AimedFeed
from feedscript.shipped import shipped_folder


class Document(msgspec.Struct, frozen=True, dict=True):
    """A program as it stands in the editor, unsaved changes included."""

    path: Path
    text: str
    scope: Scope
    verdict: Verdict
    library: Path | None = None  # the coach's own, where it is not the usual one
    memo: Memo = msgspec.field(default_factory=Memo)  # of earlier checks

    @cached_property
    def names(self) -> Names:
        """Where each name of the text stands, and what it means."""
        return names_of(self.scope)

    def judged(self, text: str) -> Verdict:
        """What would be said of other words in its place."""
        return _verdict(self.path, text, Options(library=self.library), self.memo)

    def aimed(self) -> Mapping[str, AimedFeed]:
        """Every feed that could be aimed, by its name, also in a program that is refused."""
        plan = self.verdict.plan or self.verdict.draft
        return {} if plan is None else {feed.name: feed for feed in plan.feeds}


def names_in(
    path: Path, text: str, library: Path | None = None, memo: Memo | None = None
) -> tuple[Scope, Names]:
    """The names of a text, without aiming anything."""
    scope = _scope(path, text, library, Memo() if memo is None else memo)
    return scope, names_of(scope)


def _scope(path: Path, text: str, library: Path | None, memo: Memo) -> Scope:
    load = load_beside(path, shipped_folder(), library_folder(library))
    return Files(load, Findings(), memo).read(str(path), text)


def open_document(
    path: Path, text: str, library: Path | None = None, memo: Memo | None = None
) -> Document:
    """Everything that an editor shows of a text; ``memo`` is of earlier checks."""
    memo = Memo() if memo is None else memo
    verdict = _verdict(path, text, Options(library=library), memo)
    scope = _scope(path, text, library, memo) if verdict.scope is None else verdict.scope
    return Document(path, text, scope, verdict, library, memo)


def _verdict(path: Path, text: str, options: Options, memo: Memo) -> Verdict:
    """The check's verdict; of a season, what is said of it and of its programs."""
    verdict = check_program(path, options, text=text, memo=memo)
    if SEASON_FILE.slug not in {one.slug for one in verdict.diagnostics}:
        return verdict
    season = check_season(path, options, text=text, memo=memo)
    return Verdict(season.diagnostics, sources=season.sources, scope=verdict.scope)
