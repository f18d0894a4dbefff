"""A season judged: its days, and every program that it names."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import msgspec

from feedscript.check.check_program import Options, Verdict, check_program, text_of_file
from feedscript.diagnostics import Diagnostic, Page, Related, Severity, has_errors
from feedscript.language import Season, read
from feedscript.language.program import PlannedLesson, ProgramUse
from feedscript.language.resolve.loading import load_beside
from feedscript.memo import Memo
from feedscript.own_library import library_folder
from feedscript.shipped import shipped_folder

NO_SEASON = Page(
    slug="no-season",
    title="A program where a season belongs",
    why="""A season is a file with `season "…" { … }`: the weekdays, the first day, and for each
week what it is about and which program is played.""",
)

REFUSED_PROGRAM = Page(
    slug="refused-program",
    title="A season names a program that does not pass",
    why="""Every program of a season is checked with it, so that nobody finds out on the day. What
is wrong with a program is told by checking it alone.""",
)

NO_LENGTH = Page(
    slug="no-length",
    title="A lesson of which nobody knows how long it is",
    why="""In a calendar a lesson has an end. It is stated for its weekday (`for 60 min`), or by the
program itself (`lesson of 60 min`).""",
)

TOO_LONG = Page(
    slug="too-long-for-the-day",
    title="A program that is longer than the lesson",
    severity=Severity.WARNING,
    why="""The season gives the lesson less time than the program says it takes. On court what is
left over would be missing at the end.""",
)


class SeasonVerdict(msgspec.Struct, frozen=True, kw_only=True):
    """A season and what is known of it. ``programs``: the verdict on each file, by its name."""

    diagnostics: tuple[Diagnostic, ...]
    season: Season | None = None
    programs: Mapping[str, Verdict] = {}
    sources: Mapping[str, str] = {}

    @property
    def ok(self) -> bool:
        """Whether every lesson has a day and a program that passes."""
        return self.season is not None and not has_errors(self.diagnostics)

    def length_s(self, lesson: PlannedLesson) -> float | None:
        """How long a lesson is: as its day says, else as its program does."""
        if lesson.length_s is not None:
            return lesson.length_s
        program = self.programs[lesson.program.source].program
        return None if program is None else program.planned_s


#: Told before each program is checked: how many were, of how many.
Watch = Callable[[int, int], None]


def check_season(
    path: Path,
    options: Options | None = None,
    *,
    text: str | None = None,
    watch: Watch | None = None,
    memo: Memo | None = None,
) -> SeasonVerdict:
    """The verdict on the season at ``path``, its programs checked; ``text`` and ``memo`` as in the
    check."""
    options, memo = options or Options(), Memo() if memo is None else memo
    content = text_of_file(path) if text is None else text
    if isinstance(content, Diagnostic):
        return SeasonVerdict(diagnostics=(content,))
    load = load_beside(path, shipped_folder(), library_folder(options.library))
    season, found = read(content, str(path), load=load, memo=memo)
    sources = {str(path): content}
    if season is not None and not isinstance(season, Season):
        help_text = "write one: `feedscript why no-season`; a program is for `feedscript check`"
        wrong = NO_SEASON.report(f"{path} holds no season", help=help_text, device=str(path))
        return SeasonVerdict(diagnostics=(wrong,), sources=sources)
    if season is None:
        return SeasonVerdict(diagnostics=found, sources=sources)
    return _judged(season, SeasonVerdict(diagnostics=found, sources=sources), options, watch, memo)


def _judged(
    season: Season, so_far: SeasonVerdict, options: Options, watch: Watch | None, memo: Memo
) -> SeasonVerdict:
    programs: dict[str, Verdict] = {}
    sources = dict(so_far.sources)
    for done, use in enumerate(season.programs):
        if watch is not None:
            watch(done, len(season.programs))
        verdict = programs[use.source] = check_program(Path(use.source), options, memo=memo)
        sources |= verdict.sources
    judged = SeasonVerdict(
        diagnostics=so_far.diagnostics, season=season, programs=programs, sources=sources
    )
    more = (*_refused(season, programs), *_lengths(season, judged))
    return msgspec.structs.replace(judged, diagnostics=(*so_far.diagnostics, *more))


def _refused(season: Season, programs: Mapping[str, Verdict]) -> Iterator[Diagnostic]:
    """One diagnostic for each place that names a program which does not pass."""
    uses = {lesson.program.span: lesson.program for lesson in season.lessons}
    for use in uses.values():
        verdict = programs[use.source]
        if not verdict.as_expected:
            yield _refusal(use, verdict)


def _refusal(use: ProgramUse, verdict: Verdict) -> Diagnostic:
    errors = [one for one in verdict.diagnostics if one.is_error]
    message = f'"{use.name}" does not pass'
    related = []
    if errors:
        more = "" if len(errors) == 1 else f", and {len(errors) - 1} more"
        message = f"{message}: {errors[0].message}{more}"
        related = [Related(errors[0].span, "here")] if errors[0].span is not None else []
    else:
        message = f"{message}: it is safe, but not what it expects of itself"
    help_text = f"`feedscript check {use.source}` says all of it; mend it, or name another"
    return REFUSED_PROGRAM.report(message, help=help_text, span=use.span, related=related)


def _lengths(season: Season, verdict: SeasonVerdict) -> Iterator[Diagnostic]:
    """Lessons without a length, and programs that are longer than the day leaves them."""
    told = set()
    for lesson in season.lessons:
        key = (lesson.program.span, lesson.length_s)
        if key in told:
            continue
        told.add(key)
        program = verdict.programs[lesson.program.source].program
        planned_s = None if program is None else program.planned_s
        if program is not None and lesson.length_s is None and planned_s is None:
            message = f'nobody says how long the lesson with "{lesson.program.name}" is'
            help_text = "write `for 60 min` behind its hour, or `lesson of 60 min` in the program"
            yield NO_LENGTH.report(message, help=help_text, span=lesson.program.span)
        elif planned_s is not None and planned_s > (lesson.length_s or planned_s):
            message = (
                f'"{lesson.program.name}" is a lesson of {planned_s / 60:g} min, and the day has '
                f"{(lesson.length_s or 0) / 60:g} min"
            )
            help_text = f"write `for {planned_s / 60:g} min` behind the hour, or name another"
            yield TOO_LONG.report(message, help=help_text, span=lesson.program.span)
