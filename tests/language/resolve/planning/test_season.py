"""Seasons: the days by an independent count, and each slip told with its place and its mend.

The days are counted anew by dateutil's recurrence rules (RFC 5545, 3.3.10), which share no code
with ours.
"""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import WEEKLY, rrule, weekday
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.diagnostics import has_errors
from feedscript.language import Season, read
from feedscript.language.resolve.loading import Loaded, NotLoaded
from feedscript.language.resolve.planning.when import WEEKDAYS
from tests.language.syntax_errors.test_any_text import mutated

EVERY = 'every monday, wednesday at 17:00 for 60 min in "Europe/Vienna"'
FROM = "from 2027-01-11"
ONE = 'week 1 to 2 "Depth" { use "a" }'
A = 'week 1 "A" { use "a" }'
AT_NIGHT = 'every sunday at 02:30 in "Europe/Vienna"'


def load(using: str, path: str) -> Loaded | NotLoaded:
    """Every program is there but the one called missing."""
    return NotLoaded("there is none") if path == "missing" else Loaded(f"/{path}.feed", "")


def season(*lines: str) -> Season:
    text = "\n".join(['feedscript 1\nseason "S" {', *lines, "}\n"])
    made, found = read(text, "s.season", load=load)
    assert found == (), found
    assert isinstance(made, Season)
    return made


def told(*lines: str) -> list[tuple[str, str, str, str]]:
    """Slug, message, mend, and the words at the place, of all that is wrong."""
    text = "\n".join(['feedscript 1\nseason "S" {', *lines, "}\n"])
    made, found = read(text, "s.season", load=load)
    assert made is None
    rows = text.split("\n")
    at = []
    for one in found:
        assert one.span is not None
        row = rows[one.span.line - 1]
        end = one.span.end_column - 1 if one.span.end_line == one.span.line else None
        at.append((one.slug, one.message, one.help, row[one.span.column - 1 : end]))
    return at


# --- the days


@st.composite
def seasons(draw) -> tuple[list[int], date, int, list[date]]:
    days = sorted(draw(st.sets(st.integers(0, 6), min_size=1, max_size=7)))
    first = draw(st.dates(date(2024, 1, 1), date(2031, 12, 31)))
    weeks = draw(st.integers(1, 30))
    monday = first - timedelta(days=first.weekday())
    span = [monday + timedelta(days=n) for n in range(7 * weeks)]
    lesson_days = [day for day in span if day >= first and day.weekday() in days]
    off = (
        draw(st.lists(st.sampled_from(lesson_days), unique=True, max_size=5)) if lesson_days else []
    )
    return days, first, weeks, off


@settings(max_examples=40)
@given(seasons())
def test_the_days_are_those_of_an_independent_count(drawn) -> None:
    days, first, weeks, off = drawn
    last = first - timedelta(days=first.weekday()) + timedelta(days=7 * weeks - 1)
    rule = rrule(
        WEEKLY,
        dtstart=datetime(first.year, first.month, first.day),
        until=datetime(last.year, last.month, last.day),
        byweekday=[weekday(day) for day in days],
        wkst=weekday(0),
    )
    counted = [moment.date() for moment in rule if moment.date() not in off]
    names = ", ".join(WEEKDAYS[day] for day in days)
    lines = [f'every {names} at 17:00 for 60 min in "Europe/Vienna"', f"from {first}"]
    lines += [f"no lesson on {', '.join(map(str, off))}"] if off else []
    lines += [f'week 1 to {weeks} "T" {{ use "a" }}']
    if counted:
        assert [lesson.day for lesson in season(*lines).lessons] == counted
    else:
        assert {slug for slug, *_ in told(*lines)} == {"idle-fact"}


def test_weeks_begin_on_mondays_and_the_first_is_that_of_the_first_day() -> None:
    """From a Wednesday on: the Monday of its week is over, and week 2 begins five days later."""
    lessons = season(EVERY, "from 2027-01-13", ONE).lessons
    assert [(one.week, one.day.isoformat()) for one in lessons] == [
        (1, "2027-01-13"),
        (2, "2027-01-18"),
        (2, "2027-01-20"),
    ]


def test_the_hour_stays_where_clocks_change() -> None:
    """Europe/Vienna: on the last Sunday of March clocks go from UTC+1 to UTC+2."""
    made = season(
        'every saturday, monday at 17:00 for 1 h in "Europe/Vienna"',
        "from 2027-03-27",
        ONE.replace("1 to 2", "1 to 2"),
    )
    before, after, _ = made.lessons
    assert (before.begins.isoformat(), after.begins.isoformat()) == (
        "2027-03-27T17:00:00+01:00",
        "2027-03-29T17:00:00+02:00",
    )
    assert after.begins.astimezone(UTC).hour == 15


def test_a_week_s_programs_words_and_hours() -> None:
    made = season(
        'every monday at 17:00 for 60 min in "Europe/Vienna"',
        "every thursday at 16:30",
        FROM,
        'week 1 "Depth" { use "a"  thursday "b"  watch "the net"  aim "ten" }',
        'weeks 2 to 3 "Net" { monday "c"  thursday "c" }',
        "no lesson on 2027-01-21",
    )
    assert [
        (one.number, one.theme, one.program.name, one.program.source) for one in made.lessons
    ] == [
        (1, "Depth", "a", "/a.feed"),
        (2, "Depth", "b", "/b.feed"),
        (3, "Net", "c", "/c.feed"),
        (4, "Net", "c", "/c.feed"),
        (5, "Net", "c", "/c.feed"),
    ]
    first, second = made.lessons[:2]
    assert (first.watch, first.aim, first.length_s) == ("the net", "ten", 3600)
    assert (second.begins, second.length_s) == (
        datetime(2027, 1, 14, 16, 30, tzinfo=ZoneInfo("Europe/Vienna")),
        None,
    )
    assert made.off == (date(2027, 1, 21),)
    assert [use.name for use in made.programs] == ["a", "b", "c"]


# --- what is wrong


@pytest.mark.parametrize(
    ("lines", "slug", "place", "mend"),
    [
        # When.
        ((EVERY, ONE), "no-days", "season", "add a line: `from 2027-01-11`"),
        ((FROM, ONE), "no-days", "season", "every monday at 17:00"),
        ((EVERY, FROM), "no-days", "season", "week 1 to 2"),
        ((EVERY, "from 2027-02-30", ONE), "bad-date", "2027-02-30", "a day there is"),
        ((EVERY, "from 2027-1-11", ONE), "bad-date", "2027-1-11", "write `2027-01-11`"),
        ((EVERY, "from 11.1.2027", ONE), "bad-date", "11.1.2027", "the year first"),
        ((EVERY, "from 1/11/27", ONE), "bad-date", "1/11/27", "the year first"),
        ((EVERY.replace("17:00", "5 pm"), FROM, ONE), "bad-time", "5 pm", "write `17:00`"),
        ((EVERY.replace("17:00", "12 am"), FROM, ONE), "bad-time", "12 am", "write `00:00`"),
        ((EVERY.replace("17:00", "17.30"), FROM, ONE), "bad-time", "17.30", "write `17:30`"),
        ((EVERY.replace("17:00", "24:00"), FROM, ONE), "bad-time", "24:00", "`23:59`"),
        ((EVERY.replace("Vienna", "Viena"), FROM, ONE), "unknown-zone", '"Europe/Viena"', "Vienna"),
        ((EVERY.replace("Europe/Vienna", "CET"), FROM, ONE), "unknown-zone", '"CET"', "place"),
        (("every monday at 17:00", FROM, ONE), "unknown-zone", "every monday at 17:00", 'in "Eur'),
        ((EVERY.replace("monday", "moonday"), FROM, ONE), "unknown-choice", "moonday", "monday"),
        ((EVERY, "every monday at 9:00", FROM, ONE), "said-twice", "monday", "keep one"),
        ((EVERY, FROM, FROM, ONE), "said-twice", FROM, "keep one"),
        ((EVERY.replace("60 min", "1 min"), FROM, ONE), "out-of-range", "1 min", "5 to 360 min"),
        ((EVERY.replace("60 min", "60"), FROM, ONE), "no-unit", "60", "write for instance"),
        ((EVERY.replace("60 min", "60 m"), FROM, ONE), "wrong-dimension", "60 m", "a time"),
        # An hour that does not come, and one that comes twice.
        (
            (AT_NIGHT, "from 2027-03-28", A),
            "bad-time", "02:30", "an hour earlier or later",
        ),
        (
            (AT_NIGHT, "from 2027-10-31", A),
            "bad-time", "02:30", "an hour earlier or later",
        ),
        # Days that fall out.
        ((EVERY, FROM, ONE, "no lesson on 2027-01-12"), "idle-fact", "2027-01-12", "take it out"),
        ((EVERY, FROM, ONE, "no lesson on 2027-01-04"), "idle-fact", "2027-01-04", "take it out"),
        ((EVERY, FROM, ONE, "no lesson on 2027-01-25"), "idle-fact", "2027-01-25", "up to week 2"),
        (
            (EVERY, FROM, ONE, "no lesson on 2027-01-20 to 2027-01-18"),
            "out-of-range", "2027-01-20 to 2027-01-18", "write `2027-01-18 to 2027-01-20`",
        ),
        (
            (EVERY, FROM, ONE, "no lesson on 2027-01-18, 2027-01-18"),
            "said-twice", "2027-01-18", "keep one",
        ),
        (
            (EVERY, FROM, ONE, "no lesson on 2027-01-18 to 2037-01-18"),
            "out-of-range", "2027-01-18 to 2037-01-18", "another season",
        ),
        # Weeks: overlap, gaps, before the start.
        ((EVERY, FROM, ONE, 'week 2 "B" { use "b" }'), "said-twice", "2", "keep one"),
        ((EVERY, FROM, ONE, 'week 2 to 5 "B" { use "b" }'), "said-twice", "2", "keep one"),
        ((EVERY, FROM, ONE, 'week 0 "B" { use "b" }'), "out-of-range", "0", "from 1 to 104"),
        ((EVERY, FROM, 'week 2 to 1 "B" { use "b" }'), "out-of-range", "2", "write `1 to 2`"),
        ((EVERY, FROM, 'week 1 to 200 "B" { use "b" }'), "out-of-range", "200", "from 1 to 104"),
        ((EVERY, FROM, 'week 1.5 "B" { use "b" }'), "not-whole", "1.5", "write 2"),
        ((EVERY, FROM, ONE, 'week 4 "B" { use "b" }'), "no-program", "week 4", 'add `week 3 "…"'),
        ((EVERY, FROM, 'week 2 "B" { use "b" }'), "no-program", "week 2", "on 2027-01-11`"),
        ((EVERY, FROM, 'week 1 "A" { monday "a" }'), "no-program", "1", 'add `wednesday "…"`'),
        ((EVERY, FROM, 'week 1 "A" { }'), "no-program", "1", 'use "…"'),
        ((EVERY, FROM, 'week 1 "A" { use "a"  use "b" }'), "said-twice", 'use "b"', "keep one"),
        (
            (EVERY, FROM, 'week 1 "A" { use "a"  watch "x"  watch "y" }'),
            "said-twice", 'watch "y"', "keep one",
        ),
        ((EVERY, FROM, 'week 1 "A" { use "a" sunday "b" }'), "idle-fact", "sunday", "every sunday"),
        (
            (EVERY, FROM, 'week 1 "A" { use "a"  monday "b"  wednesday "c" }'),
            "idle-fact", 'use "a"', "take the line out",
        ),
        (
            (EVERY, FROM, ONE, 'week 3 "C" { use "missing" }'),
            "cannot-use", '"missing"', "feedscript programs",
        ),
        (
            (EVERY, FROM, 'week 1 "A" { use "a" }', "no lesson on 2027-01-18, 2027-01-20",
             'week 2 "B" { use "b" }', 'week 3 "C" { use "c" }'),
            "idle-fact", "2", "days that fall out",
        ),
        # A week in which no lesson is, and that says nothing.
        (
            ('every monday at 9:00 in "Europe/Vienna"', "from 2027-01-13", 'week 1 "A" { }'),
            "idle-fact", "1", "take it out",
        ),
        # From a Wednesday on there is no Monday in week 1.
        (
            (EVERY, "from 2027-01-13", 'week 1 "A" { monday "a"  wednesday "b" }'),
            "idle-fact", 'monday "a"', "take the line out",
        ),
    ],
)  # fmt: skip
def test_a_slip_is_told_at_its_place_with_its_mend(lines, slug, place, mend) -> None:
    found = told(*lines)
    assert [(one[0], one[3]) for one in found] == [(slug, place)], found
    assert mend in found[0][2]


def test_a_season_stands_alone_in_its_file() -> None:
    text = f'feedscript 1\nseason "S" {{ {EVERY}  {FROM}  {ONE} }}\n'
    for more, place in (('title "x"\n', 3), (f'season "T" {{ {EVERY}  {FROM}  {ONE} }}\n', 3)):
        made, (found,) = read(text + more, "s.season", load=load)
        assert made is None
        assert (found.slug, found.span.line) == ("beside-season", place)


def test_whatever_the_text_there_is_a_season_with_lessons_or_an_error(root) -> None:
    text = (root / "programs" / "autumn-juniors.season").read_text("utf-8")
    rng, made = random.Random(3), 0
    for _ in range(200):
        broken = mutated(text, text, rng)
        found, diagnostics = read(broken, "s.season", load=load)
        assert (found is None) == has_errors(diagnostics), broken
        if isinstance(found, Season):
            made += 1
            assert found.lessons, broken
    assert made > 10


def test_words_without_their_closing_mark_are_told() -> None:
    found = told(EVERY, FROM, 'week 1 "B" { use "b"  watch "the net', "}")
    assert [slug for slug, *_ in found] == ["unclosed-text"]
