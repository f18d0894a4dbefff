"""What became of a season's lessons, as words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from feedscript.journal.redaction import name_key
from feedscript.review.report.lesson import Lesson
from feedscript.review.report.words import iso
from feedscript.review.season.held import STANDINGS, Planned, SeasonHeld, Standing
from feedscript.tongues.text import _, joined, p_

#: The days of a week from Monday on, short.
DAYS = (
    p_("day", "Mon"),
    p_("day", "Tue"),
    p_("day", "Wed"),
    p_("day", "Thu"),
    p_("day", "Fri"),
    p_("day", "Sat"),
    p_("day", "Sun"),
)


def held_words(held: SeasonHeld, player: str | None = None) -> list[str]:
    """A line a lesson, then how many were held; of the players only ``player`` if one is named."""
    lines = [_line(one, player) for one in held.planned]
    past = len(held.planned) - held.count(Standing.COMING)
    counts: list[str] = [_("held: {n} of {past} so far", n=held.count(Standing.HELD), past=past)]
    for standing in (Standing.OTHER, Standing.MISSED, Standing.COMING):
        if held.count(standing):
            said = STANDINGS[standing]
            counts.append(_("{standing}: {n}", standing=said, n=held.count(standing)))
    return [*lines, "", joined("; ", counts)]


def _line(one: Planned, player: str | None) -> str:
    lesson = one.lesson
    week = _("week {n:>2}", n=lesson.week)
    when = joined(" ", [DAYS[lesson.day.weekday()], lesson.day.isoformat()])
    played = joined("; ", (_played(one, each, player) for each in one.played))
    said = joined(": ", [STANDINGS[one.standing], played])
    return joined("", ["  ", joined("  ", [week, when, said])])


def _played(one: Planned, lesson: Lesson, player: str | None) -> str:
    zone = one.lesson.begins.tzinfo
    begun = datetime.fromtimestamp(lesson.begun_utc_s, zone)
    when: str = f"{begun:%H:%M}"
    if lesson.ended_utc_s is not None:
        until = f"{datetime.fromtimestamp(lesson.ended_utc_s, zone):%H:%M}"
        when = _("{begun} to {until}", begun=when, until=until)
    title = lesson.title if one.standing is Standing.OTHER and player is None else ""
    names = ", ".join(_players(lesson, player))
    return joined(", ", [when, title, _("with {players}", players=names) if names else ""])


def _players(lesson: Lesson, player: str | None) -> Iterator[str]:
    """Who was on turn; of the one asked for only that name."""
    return (name for name in lesson.players if player is None or name_key(name) == name_key(player))


def held_json(held: SeasonHeld, player: str | None = None) -> list[dict[str, Any]]:
    """What became of each lesson, in the season's order."""
    return [
        {
            "number": one.lesson.number,
            "standing": one.standing.value,
            "lessons": [
                {
                    "lesson": lesson.number,
                    "begun": iso(lesson.begun_utc_s),
                    "ended": None if lesson.ended_utc_s is None else iso(lesson.ended_utc_s),
                    "ending": lesson.ending,
                    "title": lesson.title if player is None else None,
                    "players": list(_players(lesson, player)),
                }
                for lesson in one.played
            ],
        }
        for one in held.planned
    ]
