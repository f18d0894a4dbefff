"""A season as a person reads it, and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

from feedscript.check.check_program import Verdict
from feedscript.check.season import SeasonVerdict
from feedscript.diagnostics import as_json
from feedscript.formats import headed
from feedscript.language.program import PlannedLesson, Season, week_of
from feedscript.visible import on_one_line


def ends(verdict: SeasonVerdict, lesson: PlannedLesson) -> datetime | None:
    """When a lesson ends, clocks that change meanwhile reckoned in; None where nobody says."""
    length_s = verdict.length_s(lesson)
    if length_s is None:
        return None
    over = lesson.begins.astimezone(UTC) + timedelta(seconds=length_s)
    return over.astimezone(lesson.begins.tzinfo)


def season_report(verdict: SeasonVerdict, name: str) -> str:
    """The season's lessons in their order, then each program and whether it passes."""
    season = verdict.season
    if season is None:
        return f"{name}: refused"
    word = "fine" if verdict.ok else "refused"
    days = f"{season.lessons[0].day} to {season.lessons[-1].day}"
    lines = [f"{name}: {word}. {season.title}: {len(season.lessons)} lessons, {days}", ""]
    lines += (line for _, line in sorted([*_lessons(verdict, season), *_days_off(season)]))
    lines += ["", *(_program(use.name, verdict.programs[use.source]) for use in season.programs)]
    return "\n".join(lines)


def _lessons(verdict: SeasonVerdict, season: Season) -> Iterator[tuple[date, str]]:
    width = max(len(lesson.theme) for lesson in season.lessons)
    for lesson in season.lessons:
        until = ends(verdict, lesson)
        hours = f"{lesson.begins:%H:%M} to {until:%H:%M}" if until else f"{lesson.begins:%H:%M}"
        fails = "" if verdict.programs[lesson.program.source].as_expected else "  does not pass"
        when = _when(lesson.week, lesson.day)
        line = f"{when}  {hours}  {lesson.theme:<{width}}  {lesson.program.name}{fails}"
        yield lesson.day, line


def _days_off(season: Season) -> Iterator[tuple[date, str]]:
    for day in season.off:
        yield day, f"{_when(week_of(season.first_day, day), day)}  no lesson"


def _when(week: int, day: date) -> str:
    return f"  week {week:>2}  {day:%a} {day.isoformat()}"


def _program(name: str, verdict: Verdict) -> str:
    title = f" ({verdict.program.title})" if verdict.program is not None else ""
    name = on_one_line(name)
    if verdict.as_expected:
        return f"{name}{title}: passed"
    return f"{name}{title}: does not pass; feedscript check {name}"


def season_json(verdict: SeasonVerdict) -> dict[str, Any]:
    """The season as plain data; moments are ISO 8601 with their offset."""
    season = verdict.season
    plain = {
        "ok": verdict.ok,
        "title": None if season is None else season.title,
        "first_day": None if season is None else season.first_day.isoformat(),
        "lessons": [] if season is None else [_lesson(verdict, one) for one in season.lessons],
        "no_lesson_on": [] if season is None else [day.isoformat() for day in season.off],
        "programs": [
            {
                "name": use.name,
                "file": use.source,
                "ok": verdict.programs[use.source].as_expected,
                "diagnostics": [as_json(one) for one in verdict.programs[use.source].diagnostics],
            }
            for use in (() if season is None else season.programs)
        ],
        "diagnostics": [as_json(one) for one in verdict.diagnostics],
    }
    return headed("season", plain)


def _lesson(verdict: SeasonVerdict, lesson: PlannedLesson) -> dict[str, Any]:
    until = ends(verdict, lesson)
    return {
        "number": lesson.number,
        "week": lesson.week,
        "begins": lesson.begins.isoformat(),
        "ends": None if until is None else until.isoformat(),
        "zone": str(lesson.begins.tzinfo),
        "theme": lesson.theme,
        "program": lesson.program.name,
        "file": lesson.program.source,
        "aim": lesson.aim,
        "watch": lesson.watch,
        "ok": verdict.programs[lesson.program.source].as_expected,
    }
