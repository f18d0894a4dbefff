"""What became of a season's lessons, as words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from feedscript.journal.redaction import name_key
from feedscript.review.report.lesson import Lesson
from feedscript.review.report.words import iso
from feedscript.review.season.held import Planned, SeasonHeld, Standing


def held_words(held: SeasonHeld, player: str | None = None) -> list[str]:
    """A line a lesson, then how many were held; of the players only ``player`` if one is named."""
    lines = [_line(one, player) for one in held.planned]
    past = len(held.planned) - held.count(Standing.COMING)
    counts = [f"held: {held.count(Standing.HELD)} of {past} so far"]
    for standing in (Standing.OTHER, Standing.MISSED, Standing.COMING):
        if held.count(standing):
            counts.append(f"{standing.value}: {held.count(standing)}")
    return [*lines, "", "; ".join(counts)]


def _line(one: Planned, player: str | None) -> str:
    lesson = one.lesson
    when = f"  week {lesson.week:>2}  {lesson.day:%a} {lesson.day.isoformat()}"
    played = "; ".join(_played(one, each, player) for each in one.played)
    return f"{when}  {one.standing.value}{': ' if played else ''}{played}"


def _played(one: Planned, lesson: Lesson, player: str | None) -> str:
    zone = one.lesson.begins.tzinfo
    begun = datetime.fromtimestamp(lesson.begun_utc_s, zone)
    until = ""
    if lesson.ended_utc_s is not None:
        until = f" to {datetime.fromtimestamp(lesson.ended_utc_s, zone):%H:%M}"
    title = f", {lesson.title}" if one.standing is Standing.OTHER and player is None else ""
    names = ", ".join(_players(lesson, player))
    return f"{begun:%H:%M}{until}{title}{', with ' if names else ''}{names}"


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
