"""A whole program."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from feedscript.club_library import Pin
from feedscript.diagnostics import Span
from feedscript.language.program.declared import (
    BallsDecl,
    CourtDecl,
    GroupDecl,
    KeepOut,
    LauncherDecl,
    RequirementDecl,
    SuitsDecl,
    WaiverDecl,
)
from feedscript.language.program.expectations import Expectation
from feedscript.language.program.feeds import FeedWish, ProgressionDecl
from feedscript.language.program.statements import Statement


class Program(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A whole program. ``sources`` has the text of every file it was read from, by name."""

    title: str
    source: str
    sources: Mapping[str, str]
    seed: int
    court: CourtDecl
    balls: BallsDecl
    launchers: tuple[LauncherDecl, ...]  # at least one
    group: GroupDecl
    keep_outs: tuple[KeepOut, ...]
    waivers: tuple[WaiverDecl, ...]
    requirements: tuple[RequirementDecl, ...]
    #: Every feed that the lesson sends or shows, or an expectation names, by name; in the order
    #: of their definition. Mirrored ones follow the feed they mirror.
    feeds: Mapping[str, FeedWish]
    lesson: tuple[Statement, ...]
    suits: SuitsDecl | None = None
    #: What may stand for a feed in the lesson and in expectations, by what it is called there.
    progressions: Mapping[str, ProgressionDecl] = {}
    planned_s: float | None = None  # the time meant for the whole lesson
    planned_span: Span | None = None
    expectations: tuple[Expectation, ...]
    from_club: tuple[Pin, ...] = ()  # the club's texts that it uses, by name
    span: Span

    def rungs_of(self, name: str) -> tuple[str, ...]:
        """The feeds of a progression; a feed is its own only one."""
        found = self.progressions.get(name)
        return (name,) if found is None else found.rungs
