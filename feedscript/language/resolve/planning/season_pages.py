"""The pages of what may be wrong with a season."""

from __future__ import annotations

from feedscript.diagnostics import Page


def season(lines: str) -> str:
    """A season with these lines, for the examples."""
    return f'feedscript 1\nseason "Autumn juniors" {{\n    {lines}\n}}\n'


_WHEN = 'every monday at 17:00 for 60 min in "Europe/Vienna"'
_WEEKS = 'week 1 to 2 "Depth" { use "wednesday-six" }'

BAD_DATE = Page(
    slug="bad-date",
    title="A day that cannot be read, or that no calendar has",
    why="""A day is written year, month, day, with strokes between, as in ISO 8601: `2027-01-11`.
Other orders mean different days in different countries, so they are not guessed at.""",
    wrong=season(f"{_WHEN}  from 11.1.2027\n    {_WEEKS}"),
    corrected=season(f"{_WHEN}  from 2027-01-11\n    {_WEEKS}"),
)

BAD_TIME = Page(
    slug="bad-time",
    title="A time of day that cannot be read, or that does not come",
    why="""A time of day is written with 24 hours: `17:00`. On the day on which clocks go forward an
hour does not come, and on the day on which they go back one comes twice; no lesson can begin in
either, because nobody could tell when that is.""",
    wrong=season(
        'every monday at 5 pm for 60 min in "Europe/Vienna"  from 2027-01-11\n    ' + _WEEKS
    ),
    corrected=season(f"{_WHEN}  from 2027-01-11\n    {_WEEKS}"),
)

UNKNOWN_ZONE = Page(
    slug="unknown-zone",
    title="A time zone that nobody knows",
    why="""The hour of a lesson is that of a place, and summer time comes and goes there by the
place's own rules. They are looked up by its name in the IANA Time Zone Database, such as
`Europe/Vienna`; a short name such as `CET` or a number of hours would not say when clocks
change.""",
    wrong=season(
        f'every monday at 17:00 for 60 min in "Europe/Viena"  from 2027-01-11\n    {_WEEKS}'
    ),
    corrected=season(f"{_WHEN}  from 2027-01-11\n    {_WEEKS}"),
)

NO_DAYS = Page(
    slug="no-days",
    title="A season that does not say when",
    why="""A season needs its weekdays with their hour (`every`), the day from which on it runs
(`from`), and at least one `week`. Nothing of it has a usual value.""",
    wrong=season(f"{_WHEN}\n    {_WEEKS}"),
    corrected=season(f"{_WHEN}  from 2027-01-11\n    {_WEEKS}"),
)

NO_PROGRAM = Page(
    slug="no-program",
    title="A lesson without a program",
    why="""From the first day to the last week named, each lesson day has a program: that of its
week (`use`), or its weekday's own. A gap is told, because it may be a week that was forgotten; if
there is no lesson then, `no lesson on` says so.""",
    wrong=season(
        f'{_WHEN}  from 2027-01-11\n    week 1 "Depth" {{ use "wednesday-six" }}\n'
        '    week 3 "Net play" { use "thursday-juniors" }'
    ),
    corrected=season(
        f"{_WHEN}  from 2027-01-11\n    no lesson on 2027-01-18\n"
        '    week 1 "Depth" { use "wednesday-six" }\n'
        '    week 3 "Net play" { use "thursday-juniors" }'
    ),
)

BESIDE_SEASON = Page(
    slug="beside-season",
    title="Something beside a season",
    why="""A season stands in a file of its own, with the version of the language above it and
nothing else: it names programs, and is none. Its title is its own.""",
    wrong=season(f"{_WHEN}  from 2027-01-11\n    {_WEEKS}") + "balls { type 2 }\n",
    corrected=season(f"{_WHEN}  from 2027-01-11\n    {_WEEKS}"),
)
