"""Days, times of day and time zones, as a season writes them."""

from __future__ import annotations

import re
import zoneinfo
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta

from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve.planning.season_pages import BAD_DATE, BAD_TIME, UNKNOWN_ZONE
from feedscript.language.resolve.properties import choice, text_of
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.value_pages import OUT_OF_RANGE
from feedscript.nearest import nearest

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
#: The longest stretch of days off that is spelt out.
_MOST_OFF = 366


def day_name(day: date) -> str:
    """``Monday 2027-01-11``."""
    return f"{WEEKDAYS[day.weekday()].capitalize()} {day.isoformat()}"


def read_weekday(scope: Scope, word: Token) -> int | None:
    """0 for Monday; None where it is none (reported)."""
    found = choice(scope, word, WEEKDAYS, "weekday")
    return None if found is None else WEEKDAYS.index(found)


def read_date(scope: Scope, token: Token) -> date | None:
    """The day; None where there is none (reported)."""
    written = str(token)
    try:
        return date.fromisoformat(written)
    except ValueError as trouble:
        numbers = re.split(r"[.\-/]", written)
        if len(numbers[0]) == 4:
            fix = _padded(numbers)
            message = f"`{written}` is no day: {trouble}"
            if fix not in (None, written):
                message = f"`{written}` is written with two figures for month and day"
            help_text = f"write `{fix}`" if fix not in (None, written) else "write a day there is"
        else:
            message = f"`{written}` could be several days"
            help_text = "write the year first, then month and day: `2027-01-11`"
        scope.report(BAD_DATE, token, message, help_text)
        return None


def _padded(numbers: list[str]) -> str | None:
    """Year, month and day with as many figures as are asked for, if that is a day."""
    try:
        return date(*map(int, numbers)).isoformat()
    except ValueError:
        return None


def read_days(scope: Scope, node: t.Days) -> Iterator[date]:
    """Each day of ``DATE`` or ``DATE to DATE``."""
    first = read_date(scope, node.first)
    last = first if node.last is None else read_date(scope, node.last)
    if first is None or last is None:
        return
    if last < first:
        message = f"`{node.first} to {node.last}` goes backwards"
        scope.report(OUT_OF_RANGE, node, message, f"write `{node.last} to {node.first}`")
        return
    if (last - first).days > _MOST_OFF:
        message = f"{(last - first).days + 1} days are more than a year"
        scope.report(OUT_OF_RANGE, node, message, "begin another season after them")
        return
    yield from (first + timedelta(days=n) for n in range((last - first).days + 1))


def read_time(scope: Scope, token: Token) -> time | None:
    """The time of day; None where it is none (reported)."""
    found = re.fullmatch(r"(\d{1,2})(?:([:.])(\d{2}))?\s*([ap]m)?", token.lower())
    assert found is not None, token
    hour, minute, half = int(found[1]), int(found[3] or 0), found[4]
    meant = hour if half is None else hour % 12 + 12 * (half == "pm")
    if half is not None and not 1 <= hour <= 12:
        meant = 24
    if meant > 23 or minute > 59:
        message = f"a day has no time `{token}`"
        scope.report(BAD_TIME, token, message, "write a time from `00:00` to `23:59`")
        return None
    if half is not None or found[2] != ":":
        message = f"`{token}` is no time with 24 hours"
        scope.report(BAD_TIME, token, message, f"write `{meant:02}:{minute:02}`")
        return None
    return time(meant, minute)


def read_zone(scope: Scope, text: t.Text) -> zoneinfo.ZoneInfo | None:
    """The time zone; None where nobody knows it (reported)."""
    name = text_of(text).strip()
    known = zoneinfo.available_timezones()
    if name in known and "/" in name:
        return zoneinfo.ZoneInfo(name)
    if not known:
        message, help_text = "this machine has no list of time zones", "pip install tzdata"
    else:
        message = f'"{name}" is no time zone that says when its clocks change'
        by_place = {zone.rpartition("/")[2]: zone for zone in sorted(known) if "/" in zone}
        near = nearest(name, by_place.values()) or by_place.get(nearest(name, by_place) or "")
        help_text = f'did you mean "{near}"?' if near else 'write a place, such as "Europe/Vienna"'
    scope.report(UNKNOWN_ZONE, text, message, help_text)
    return None


def why_no_such_moment(begins: datetime) -> str | None:
    """Why a local time is no one moment: clocks jump over it, or pass it twice."""
    there = begins.astimezone(UTC).astimezone(begins.tzinfo)
    if there.replace(tzinfo=None) != begins.replace(tzinfo=None):
        return "clocks go forward over it"
    if begins.replace(fold=0).utcoffset() != begins.replace(fold=1).utcoffset():
        return "clocks go back, and it comes twice"
    return None
