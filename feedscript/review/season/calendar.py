"""A season as an iCalendar file (RFC 5545), written so that a second export updates the first.

A lesson keeps its UID from one export to the next; where anything of it has changed since the file
was last written, its SEQUENCE goes up by one (RFC 5545, 3.8.7.4), and a lesson that is no longer
there stays as one that is cancelled (3.8.1.11), so that it goes from the calendars it is in.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any

from feedscript.check.season import SeasonVerdict
from feedscript.check.season_text import ends
from feedscript.diagnostics import Diagnostic, Page
from feedscript.language.program import PlannedLesson, Season
from feedscript.tongues.text import _, joined
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

NO_CALENDAR_LIBRARY = Page(
    slug="no-calendar-library",
    title="Nothing is installed that writes calendars",
    why="Calendar files are written by the package icalendar, which the extra `calendar` brings.",
)

NOT_THE_CALENDAR = Page(
    slug="not-the-calendar",
    title="A file that is no calendar of this season",
    why="""A calendar is written over the one of the same season, whose lessons it updates. Any
other file is left as it is.""",
)

#: What UIDs are made in: the project's own name space, an invented one (RFC 9562, version 5).
_SPACE = uuid.uuid5(uuid.NAMESPACE_URL, "https://feedscript.example/season")
PRODUCT = "-//feedscript//season//EN"
#: What makes a lesson another one than was exported, but for its number.
_TELLING = ("SUMMARY", "DESCRIPTION", "DTSTART", "DTEND", "CATEGORIES", "STATUS")


def uid_of(season: Season, lesson: PlannedLesson) -> str:
    """A lesson's UID: the same as long as title and first day of the season, week and weekday are.

    Its hour, length, theme and program may change without making it another lesson.
    """
    name = f"{season.title}\n{season.first_day}\n{lesson.week}\n{lesson.day.isoweekday()}"
    return f"{uuid.uuid5(_SPACE, name)}"


def season_calendar(
    verdict: SeasonVerdict, before: bytes | None, now: datetime, tongue: Tongue = IN_ENGLISH
) -> bytes | Diagnostic:
    """The calendar file's bytes, in a language; ``before``: the file that it is written over, if
    there is one."""
    try:
        import icalendar
    except ModuleNotFoundError:
        message = "the package icalendar is not installed"
        return NO_CALENDAR_LIBRARY.report(message, help="pip install 'feedscript[calendar]'")
    season = verdict.season
    assert season is not None
    known = _known(icalendar, before, season)
    if isinstance(known, Diagnostic):
        return known
    made: Any = icalendar.Calendar()
    made.add("version", "2.0")
    made.add("prodid", PRODUCT)
    made.add("method", "PUBLISH")
    made.add("x-wr-calname", season.title)
    for event in _events(icalendar, verdict, season, known, now, tongue):
        made.add_component(event)
    days = [lesson.day for lesson in season.lessons]
    made.add_missing_timezones(
        first_date=date(days[0].year, 1, 1), last_date=date(days[-1].year + 1, 1, 1)
    )
    written: bytes = made.to_ical()
    return written


def _known(icalendar: Any, before: bytes | None, season: Season) -> dict[str, Any] | Diagnostic:
    """The events of the file that is written over, by UID."""
    if before is None:
        return {}
    other = "the file there is"
    try:
        there = icalendar.Calendar.from_ical(before)
        if str(there.get("prodid")) == PRODUCT and str(there.get("x-wr-calname")) == season.title:
            return {str(event["uid"]): event for event in there.walk("VEVENT")}
        other = "the calendar there is another one"
    except (ValueError, KeyError, IndexError):
        other = "the file there is no calendar"
    return NOT_THE_CALENDAR.report(other, help="name another file, or move that one away")


def _events(
    icalendar: Any,
    verdict: SeasonVerdict,
    season: Season,
    known: Mapping[str, Any],
    now: datetime,
    tongue: Tongue,
) -> Iterable[Any]:
    """Each lesson's event, then those that were exported and are no lesson any more."""
    uids = set()
    for lesson in season.lessons:
        uid = uid_of(season, lesson)
        uids.add(uid)
        event = _event(icalendar, verdict, season, lesson, uid)
        event.add("description", tongue(_description(verdict, lesson)))
        yield _settled(event, known.get(uid), now)
    for uid, event in known.items():
        if uid not in uids:
            yield _cancelled(icalendar, event, now)


def _event(
    icalendar: Any, verdict: SeasonVerdict, season: Season, lesson: PlannedLesson, uid: str
) -> Any:
    event = icalendar.Event()
    event.add("uid", uid)
    event.add("summary", f"{season.title}: {lesson.theme}")
    event.add("dtstart", lesson.begins)
    event.add("dtend", ends(verdict, lesson) or lesson.begins + timedelta(hours=1))
    event.add("categories", [lesson.theme])
    event.add("status", "CONFIRMED")
    return event


def _description(verdict: SeasonVerdict, lesson: PlannedLesson) -> str:
    program = verdict.programs[lesson.program.source].program
    title = lesson.program.name if program is None else program.title
    aim = _("Aim: {words}", words=lesson.aim) if lesson.aim else ""
    watch = _("Watch: {words}", words=lesson.watch) if lesson.watch else ""
    return joined("\n", [title, aim, watch])


def _settled(event: Any, before: Any, now: datetime) -> Any:
    """The event with its number: one more than before if anything of it is new."""
    same = before is not None and all(
        _plain(event, word) == _plain(before, word) for word in _TELLING
    )
    sequence = 0 if before is None else int(before.get("sequence", 0)) + (not same)
    event.add("sequence", sequence)
    event.add("dtstamp", before.decoded("dtstamp") if same else now.astimezone(UTC))
    return event


def _cancelled(icalendar: Any, before: Any, now: datetime) -> Any:
    event = icalendar.Event()
    for word in ("UID", "SUMMARY", "DTSTART", "DTEND"):
        if word in before:
            event[word] = before[word]
    event.add("status", "CANCELLED")
    was = str(before.get("status")) == "CANCELLED"
    event.add("sequence", int(before.get("sequence", 0)) + (not was))
    event.add("dtstamp", before.decoded("dtstamp") if was else now.astimezone(UTC))
    return event


def _plain(event: Any, word: str) -> bytes:
    """A property as it stands in a file."""
    found = event.get(word)
    return b"" if found is None else bytes(found.to_ical())
