"""The calendar of a season, read by a library that did not write it, and held to RFC 5545.

B. Desruisseaux (ed.), "Internet Calendaring and Scheduling Core Object Specification (iCalendar)",
RFC 5545, 2009; sections are named where they are held. vobject reads; lines are read here by hand.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import vobject

from feedscript.check.season import SeasonVerdict, check_season
from feedscript.diagnostics import Diagnostic
from feedscript.review.season.calendar import season_calendar
from feedscript.tongues.tongue import Tongues

NOW = datetime(2026, 12, 1, 9, 0, tzinfo=UTC)
PROGRAM = """feedscript 1
title "An hour; of depth, and more"
court { surface hard }
balls { type 2  load 60 }
launcher { stands 1 m behind centre mark }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of deep  send deep after 5 s }
"""
SEASON = """feedscript 1
season "Frühjahr, Montag" {
    every sunday at 17:00 for 60 min in "Europe/Vienna"
    from 2027-03-14
    week 1 to 3 "Depth" { use "hour"  watch "height; over the net, always" }
    week 4 "Consistency" { use "hour" }
}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "hour.feed").write_text(PROGRAM)
    return tmp_path


def judged(folder: Path, text: str = SEASON) -> SeasonVerdict:
    verdict = check_season(folder / "s.season", text=text)
    assert verdict.ok, verdict.diagnostics
    return verdict


def written(
    folder: Path, text: str = SEASON, before: bytes | None = None, now: datetime = NOW
) -> bytes:
    made = season_calendar(judged(folder, text), before, now)
    assert isinstance(made, bytes), made
    return made


def test_what_a_lesson_is_about_is_told_in_a_language(folder: Path) -> None:
    made = season_calendar(judged(folder), None, NOW, Tongues().named("de"))
    assert isinstance(made, bytes)
    assert "Achten auf: height\\; over the net\\, always" in made.decode().replace("\r\n ", "")


def events(made: bytes) -> dict[str, vobject.base.Component]:
    """The events by UID, as vobject reads them."""
    return {event.uid.value: event for event in vobject.readOne(made.decode()).vevent_list}


def numbers(made: bytes) -> list[tuple[str, int, str]]:
    """Day, SEQUENCE and STATUS of each event, by day."""
    return sorted(
        (f"{e.dtstart.value:%m-%d %H:%M}", int(e.sequence.value), e.status.value)
        for e in events(made).values()
    )


def test_another_library_reads_the_same_lessons(folder: Path) -> None:
    verdict = judged(folder)
    assert verdict.season is not None
    found = sorted(events(written(folder)).values(), key=lambda event: event.dtstart.value)
    assert [event.dtstart.value.astimezone(UTC) for event in found] == [
        lesson.begins.astimezone(UTC) for lesson in verdict.season.lessons
    ]
    for event in found:
        assert event.dtend.value - event.dtstart.value == timedelta(hours=1)
    first = found[0]
    assert first.summary.value == "Frühjahr, Montag: Depth"
    assert first.description.value == (
        "An hour; of depth, and more\nWatch: height; over the net, always"
    )
    assert first.categories.value == ["Depth"]


def test_summer_time_is_reckoned_by_the_zone_that_the_file_carries(folder: Path) -> None:
    """3.6.5: the reader works out from VTIMEZONE alone that UTC's distance changes on 28 March."""
    hours = {
        f"{event.dtstart.value:%Y-%m-%d %H:%M}": event.dtstart.value.utcoffset()
        for event in events(written(folder)).values()
    }
    one, two = timedelta(hours=1), timedelta(hours=2)
    assert hours == {
        "2027-03-14 17:00": one,
        "2027-03-21 17:00": one,
        "2027-03-28 17:00": two,
        "2027-04-04 17:00": two,
    }


def test_the_file_is_as_the_standard_asks(folder: Path) -> None:
    made = written(folder)
    lines = made.split(b"\r\n")
    assert made.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in made.replace(b"\r\n", b"")  # 3.1: lines end in CR LF
    assert max(map(len, lines)) <= 75  # 3.1: and are folded, in octets
    text = made.decode().replace("\r\n ", "")
    assert text.startswith("BEGIN:VCALENDAR\r\n")
    for word in ("VERSION:2.0", "PRODID:-//feedscript//season//EN"):  # 3.7.3, 3.7.4
        assert text.count(f"\r\n{word}\r\n") == 1
    assert re.search(r"\r\nMETHOD:PUBLISH\r\n", text)  # 3.7.2
    (zone,) = set(re.findall(r"^DTSTART;TZID=([^:]+):", text, re.M))
    assert f"\r\nTZID:{zone}\r\n" in text  # 3.2.19: each TZID has its VTIMEZONE
    for event in re.findall(r"BEGIN:VEVENT(.*?)END:VEVENT", text, re.S):
        for word in ("UID", "DTSTAMP", "DTSTART", "SEQUENCE"):  # 3.6.1
            assert len(re.findall(rf"^{word}[;:]", event, re.M)) == 1
        assert re.search(r"^DTSTAMP:\d{8}T\d{6}Z\r$", event, re.M)  # 3.8.7.2: in UTC
        assert r"height\; over the net\, always" in event or "Consistency" in event  # 3.3.11


def test_uids_are_all_different_and_no_words_of_the_season(folder: Path) -> None:
    uids = list(events(written(folder)))
    assert len(set(uids)) == len(uids) == 4
    for uid in uids:
        assert re.fullmatch(r"[0-9a-f]{8}-([0-9a-f]{4}-){3}[0-9a-f]{12}", uid)  # RFC 7986, 5.3


def test_the_same_season_again_is_the_same_file(folder: Path) -> None:
    first = written(folder)
    again = written(folder, before=first, now=NOW + timedelta(days=3))
    assert again == first


def test_a_changed_lesson_keeps_its_uid_and_counts_on(folder: Path) -> None:
    """3.8.7.4: a revision has a higher SEQUENCE; what did not change is no revision."""
    first = written(folder)
    later = SEASON.replace('week 4 "Consistency"', 'week 4 "Volleys"')
    again = written(folder, later, before=first, now=NOW + timedelta(days=3))
    assert events(again).keys() == events(first).keys()
    assert [sequence for _, sequence, _ in numbers(again)] == [0, 0, 0, 1]
    stamps = sorted({event.dtstamp.value for event in events(again).values()})
    assert [stamp.astimezone(UTC) for stamp in stamps] == [NOW, NOW + timedelta(days=3)]
    moved = later.replace("17:00", "18:30")
    third = written(folder, moved, before=again)
    assert events(third).keys() == events(first).keys()
    assert numbers(third) == [
        ("03-14 18:30", 1, "CONFIRMED"),
        ("03-21 18:30", 1, "CONFIRMED"),
        ("03-28 18:30", 1, "CONFIRMED"),
        ("04-04 18:30", 2, "CONFIRMED"),
    ]


def test_a_lesson_that_falls_out_is_cancelled_and_may_come_back(folder: Path) -> None:
    """3.8.1.11: what was exported once does not stand in calendars for ever."""
    first = written(folder)
    fewer = SEASON.replace("    week 1", "    no lesson on 2027-03-21\n    week 1")
    second = written(folder, fewer, before=first)
    assert numbers(second)[1] == ("03-21 17:00", 1, "CANCELLED")
    assert written(folder, fewer, before=second) == second
    back = written(folder, before=second)
    assert numbers(back)[1] == ("03-21 17:00", 2, "CONFIRMED")
    assert events(back).keys() == events(first).keys()


def test_a_new_season_never_takes_over_the_lessons_of_another(folder: Path) -> None:
    other_start = SEASON.replace("2027-03-14", "2027-09-05")
    other_title = SEASON.replace("Montag", "Dienstag")
    kept = {*events(written(folder))}
    assert not kept & {*events(written(folder, other_start))}
    assert not kept & {*events(written(folder, other_title))}


@pytest.mark.parametrize(
    "before",
    [b"", b"no calendar", b"BEGIN:VCALENDAR\r\nPRODID:-//x//EN\r\nEND:VCALENDAR\r\n", b"\xff\xfe"],
)
def test_a_file_of_somebody_else_is_left_alone(folder: Path, before: bytes) -> None:
    made = season_calendar(judged(folder), before, NOW)
    assert isinstance(made, Diagnostic)
    assert made.slug == "not-the-calendar"


def test_a_calendar_of_another_season_is_left_alone(folder: Path) -> None:
    other = written(folder, SEASON.replace("Montag", "Dienstag"))
    made = season_calendar(judged(folder), other, NOW)
    assert isinstance(made, Diagnostic)
    assert "another one" in made.message


def test_seasons_in_several_zones_carry_each(folder: Path) -> None:
    two = SEASON.replace(
        "    from", '    every monday at 08:00 for 60 min in "America/New_York"\n    from'
    )
    found = {e.dtstart.value.astimezone(UTC) for e in events(written(folder, two)).values()}
    assert datetime(2027, 3, 15, 12, 0, tzinfo=UTC) in found  # summer time there since 14 March
    assert datetime(2027, 3, 21, 16, 0, tzinfo=UTC) in found
