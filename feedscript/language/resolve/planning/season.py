"""``season "…" { … }``: from weekdays and weeks to single lessons, each with its program."""

from __future__ import annotations

import math
import zoneinfo
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import PurePath
from typing import TypeVar

import msgspec

from feedscript.diagnostics import Related
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.contents import check_texts
from feedscript.language.resolve.idle_facts import IDLE_FACT
from feedscript.language.resolve.loading import Load
from feedscript.language.resolve.planning.season_pages import (
    BAD_TIME,
    BESIDE_SEASON,
    NO_DAYS,
    UNKNOWN_ZONE,
)
from feedscript.language.resolve.planning.weeks import (
    WeekPlan,
    WeekReader,
    report_idle_lines,
    report_no_program,
    report_unused,
)
from feedscript.language.resolve.planning.when import (
    WEEKDAYS,
    day_name,
    read_date,
    read_days,
    read_time,
    read_weekday,
    read_zone,
    why_no_such_moment,
)
from feedscript.language.resolve.properties import once, text_of
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.values import Evaluator
from feedscript.units import Dimension

_SHORTEST_S, _LONGEST_S = 300, 6 * 3600.0

K = TypeVar("K", bound=t.SyntaxNode)
_Slots = dict[int, "_Slot"]  # by weekday


class _Slot(msgspec.Struct, frozen=True):
    """When there is a lesson on one weekday."""

    at: time
    length_s: float | None
    zone: zoneinfo.ZoneInfo
    node: t.SeasonTime


def read_season(scope: Scope, load: Load) -> p.Season:
    """The season of a file. What is wrong is reported, and the season then not whole."""
    seasons = scope.items(t.Season)
    _see_that_it_is_alone(scope, seasons)
    check_texts(scope)
    return _SeasonReader(scope, seasons[0], load).run()


def _see_that_it_is_alone(scope: Scope, seasons: list[t.Season]) -> None:
    first = scope.source.span(seasons[0].start, seasons[0].start + len("season"))
    for again in seasons[1:]:
        head = scope.source.span(again.start, again.start + len("season"))
        related = (Related(first, "the first is here"),)
        help_text = "put the second into a file of its own"
        scope.report(BESIDE_SEASON, head, "a file has one season", help_text, related)
    for item in scope.tree.items:
        if not isinstance(item, t.Season | t.Header):
            message = "this stands beside a season, which has a file of its own"
            scope.report(BESIDE_SEASON, item, message, "move it to a program, or take it out")


#: What a season needs, and a line that says it.
_WANTED: dict[type, tuple[str, str]] = {
    t.SeasonTime: ("on which days", 'every monday at 17:00 for 60 min in "Europe/Vienna"'),
    t.SeasonFrom: ("from when on", "from 2027-01-11"),
    t.Week: ("what is played", 'week 1 to 2 "Depth" { use "wednesday-six" }'),
}


class _SeasonReader:
    """One season in the making."""

    def __init__(self, scope: Scope, node: t.Season, load: Load) -> None:
        self.scope, self.node, self.load = scope, node, load
        self.evaluator = Evaluator(scope, {})

    def run(self) -> p.Season:
        slots, first_day = self._slots(), self._first_day()
        weeks = WeekReader(self.scope, self.load).read(self._lines(t.Week))
        off = self._off()
        lessons: tuple[p.PlannedLesson, ...] = ()
        if first_day is not None and slots and weeks and not self.scope.findings.any_error():
            report_idle_lines(self.scope, weeks, slots)
            self._report_idle_days_off(off, first_day, slots, weeks)
            lessons = tuple(self._lessons(first_day, slots, weeks, off))
        return p.Season(
            title=text_of(self.node.title).strip() or PurePath(self.scope.source.name).stem,
            source=self.scope.source.name,
            sources={self.scope.source.name: self.scope.source.text},
            first_day=first_day or date.min,
            lessons=lessons,
            off=tuple(sorted(day for day in off if day.weekday() in slots)),
            span=self.scope.span(self.node),
        )

    def _lines(self, kind: type[K]) -> list[K]:
        """The season's lines of a kind; none of one that it needs is reported."""
        found: list[K] = [one for one in self.node.properties if isinstance(one, kind)]
        if not found and kind in _WANTED and not self.scope.damaged(self.node):
            what, line = _WANTED[kind]
            head = self.scope.source.span(self.node.start, self.node.start + len("season"))
            message = f"the season does not say {what}"
            self.scope.report(NO_DAYS, head, message, f"add a line: `{line}`")
        return found

    # --- days and hours

    def _first_day(self) -> date | None:
        found = self._lines(t.SeasonFrom)
        for again in found[1:]:
            once(self.scope, again, self.scope.span(found[0]), "`from`")
        return read_date(self.scope, found[0].date) if found else None

    def _slots(self) -> _Slots:
        """When there is a lesson; a line without a zone has that of the line before."""
        slots: _Slots = {}
        zone: zoneinfo.ZoneInfo | None = None
        for node in self._lines(t.SeasonTime):
            at, length_s = read_time(self.scope, node.at), self._length(node)
            zone = self._zone(node, zone)
            for word in node.days:
                day = read_weekday(self.scope, word)
                if day in slots:
                    once(self.scope, word, self.scope.span(slots[day].node), f"`{word}`")
                elif day is not None and at is not None and zone is not None:
                    slots[day] = _Slot(at, length_s, zone, node)
        return slots

    def _zone(
        self, node: t.SeasonTime, before: zoneinfo.ZoneInfo | None
    ) -> zoneinfo.ZoneInfo | None:
        if node.zone is not None:
            return read_zone(self.scope, node.zone)
        if before is None:
            message = "the season does not say in which time zone this is"
            help_text = 'add the place behind it: `in "Europe/Vienna"`'
            self.scope.report(UNKNOWN_ZONE, node, message, help_text)
        return before

    def _length(self, node: t.SeasonTime) -> float | None:
        if node.length is None:
            return None
        found = self.evaluator.within(
            node.length, Dimension.TIME, _SHORTEST_S, _LONGEST_S, "a lesson"
        )
        return None if math.isnan(found) else found

    def _off(self) -> dict[date, t.Days]:
        """Each day that falls out, and where it is written."""
        off: dict[date, t.Days] = {}
        for node in (node for line in self._lines(t.NoLesson) for node in line.days):
            for day in read_days(self.scope, node):
                if off.setdefault(day, node) is not node:
                    once(self.scope, node, self.scope.span(off[day]), day.isoformat())
                    break
        return off

    def _report_idle_days_off(
        self, off: dict[date, t.Days], first: date, slots: _Slots, weeks: list[WeekPlan]
    ) -> None:
        """Report days off on which there would be no lesson anyway."""
        last = max(week.numbers[-1] for week in weeks)
        idle = {node.start: node for node in off.values()}
        for day, node in off.items():
            if first <= day and p.week_of(first, day) <= last and day.weekday() in slots:
                idle.pop(node.start, None)
        for node in idle.values():
            message = f"there would be no lesson on {self.scope.written(node)} anyway"
            days = ", ".join(f"{WEEKDAYS[day]}s" for day in sorted(slots))
            help_text = f"lessons are on {days} from {first} on, up to week {last}; take it out"
            self.scope.report(IDLE_FACT, node, message, help_text)

    # --- lessons

    def _lessons(
        self, first: date, slots: _Slots, weeks: list[WeekPlan], off: dict[date, t.Days]
    ) -> Iterator[p.PlannedLesson]:
        by_number = {number: week for week in weeks for number in week.numbers}
        used: set[tuple[int, int]] = set()
        number = 0
        for day in _days(first, max(by_number)):
            if day.weekday() not in slots or day in off:
                continue
            week_no = p.week_of(first, day)
            week = by_number.get(week_no)
            key = None if week is None else week.key_of(day)
            if week is None or key is None:
                after = next((by_number[n] for n in sorted(by_number) if n > week_no), None)
                report_no_program(self.scope, day, week_no, week, after)
                continue
            used.add((week.node.start, key))
            number += 1
            yield self._lesson(number, week_no, day, slots[day.weekday()], week, week.programs[key])
        if not self.scope.findings.any_error():
            report_unused(self.scope, weeks, used)

    def _lesson(
        self, number: int, week_no: int, day: date, slot: _Slot, week: WeekPlan, use: p.ProgramUse
    ) -> p.PlannedLesson:
        begins = datetime.combine(day, slot.at, tzinfo=slot.zone)
        trouble = why_no_such_moment(begins)
        if trouble is not None:
            message = f"{slot.node.at} on {day_name(day)} is no one moment: {trouble}"
            self.scope.report(BAD_TIME, slot.node.at, message, "begin an hour earlier or later")
        return p.PlannedLesson(
            number=number,
            week=week_no,
            begins=begins,
            length_s=slot.length_s,
            theme=text_of(week.node.theme).strip(),
            program=use,
            aim=week.notes.get("aim", ""),
            watch=week.notes.get("watch", ""),
        )


def _days(first: date, last_week: int) -> Iterator[date]:
    """Each day from the first to the end of a week, in order."""
    day = first
    while p.week_of(first, day) <= last_week:
        yield day
        day += timedelta(days=1)
