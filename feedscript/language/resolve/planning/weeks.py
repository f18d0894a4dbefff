"""The weeks of a season: what each names, and that none is named twice."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date

import msgspec

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.files import CANNOT_USE
from feedscript.language.resolve.idle_facts import IDLE_FACT
from feedscript.language.resolve.loading import Load, NotLoaded
from feedscript.language.resolve.planning.season_pages import NO_PROGRAM
from feedscript.language.resolve.planning.when import WEEKDAYS, day_name, read_weekday
from feedscript.language.resolve.properties import once, text_of
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.value_pages import OUT_OF_RANGE
from feedscript.language.resolve.values import Evaluator

#: Two years: what is longer is two seasons (design value).
MOST_WEEKS = 104
#: Stands for every weekday that a week does not name.
OTHERS = -1


class WeekPlan(msgspec.Struct, frozen=True):
    """What one ``week`` says of some weeks. Lines and programs by weekday, or OTHERS."""

    node: t.Week
    numbers: range
    lines: dict[int, t.WeekLine]
    programs: dict[int, p.ProgramUse]
    notes: dict[str, str]  # aim, watch

    def key_of(self, day: date) -> int | None:
        """What the program of a day stands under; None where it has none."""
        return next((key for key in (day.weekday(), OTHERS) if key in self.programs), None)


class WeekReader:
    """Reads the weeks of one season."""

    def __init__(self, scope: Scope, load: Load) -> None:
        self.scope, self.load = scope, load
        self.evaluator = Evaluator(scope, {})

    def read(self, nodes: Iterable[t.Week]) -> list[WeekPlan]:
        """Every week that could be read, each number once."""
        weeks = [week for node in nodes if (week := self._week(node)) is not None]
        named: dict[int, WeekPlan] = {}
        for week in weeks:
            twice = next((number for number in week.numbers if number in named), None)
            if twice is not None:
                first = self.scope.span(named[twice].node.first)
                once(self.scope, week.node.first, first, f"week {twice}")
            for number in week.numbers:
                named.setdefault(number, week)
        return weeks

    def _week(self, node: t.Week) -> WeekPlan | None:
        numbers = self._numbers(node)
        lines: dict[int, t.WeekLine] = {}
        notes: dict[str, t.WeekLine] = {}
        for line in node.properties:
            self._sort(line, lines, notes)
        found = {key: self._program(line.text) for key, line in lines.items()}
        programs = {key: one for key, one in found.items() if one is not None}
        said = {word: text_of(line.text).strip() for word, line in notes.items()}
        return None if numbers is None else WeekPlan(node, numbers, lines, programs, said)

    def _numbers(self, node: t.Week) -> range | None:
        what = "the number of a week, of which the first is 1,"
        ends = [
            self.evaluator.whole_of(one, self.evaluator.number(one), 1, MOST_WEEKS, what)
            for one in (node.first, node.last)
            if one is not None
        ]
        first, last = ends[0], ends[-1]
        if first is None or last is None:
            return None
        if last < first:
            message = f"`{first} to {last}` goes backwards"
            self.scope.report(OUT_OF_RANGE, node.first, message, f"write `{last} to {first}`")
            return None
        return range(first, last + 1)

    def _sort(
        self, line: t.WeekLine, lines: dict[int, t.WeekLine], notes: dict[str, t.WeekLine]
    ) -> None:
        """Put a line where it belongs; one said twice is reported."""
        word = str(line.word).lower()
        if word in ("aim", "watch"):
            first = notes.setdefault(word, line)
        else:
            day = OTHERS if word == "use" else read_weekday(self.scope, line.word)
            if day is None:
                return
            first = lines.setdefault(day, line)
        if first is not line:
            once(self.scope, line, self.scope.span(first), f"`{word}`")

    def _program(self, text: t.Text) -> p.ProgramUse | None:
        name = text_of(text).strip()
        found = self.load(self.scope.source.name, name)
        if isinstance(found, NotLoaded):
            message = f'"{name}" cannot be used: {found.reason}'
            help_text = "`feedscript programs` lists what there is"
            self.scope.report(CANNOT_USE, text, message, help_text)
            return None
        return p.ProgramUse(name, found.source, self.scope.span(text))


def report_idle_lines(scope: Scope, weeks: Iterable[WeekPlan], days: Collection[int]) -> None:
    """Report programs for weekdays without a lesson, and a `use` for which no day is left."""
    for week in weeks:
        own = week.lines.keys() - {OTHERS}
        for day in sorted(own - set(days)):
            message = f"there is no lesson on {WEEKDAYS[day]}s"
            help_text = f"add a line: `every {WEEKDAYS[day]} at 17:00 for 60 min`, or take this out"
            scope.report(IDLE_FACT, week.lines[day].word, message, help_text)
        if OTHERS in week.lines and own >= set(days):
            message = "no day is left for this program: each has one of its own"
            scope.report(IDLE_FACT, week.lines[OTHERS], message, "take the line out")


def report_unused(
    scope: Scope, weeks: Iterable[WeekPlan], used: Collection[tuple[int, int]]
) -> None:
    """Report what no lesson takes: ``used`` has where a week stands, and the key of the line."""
    for week in weeks:
        idle = [key for key in week.lines if (week.node.start, key) not in used]
        if len(idle) == len(week.lines):
            message = "no lesson is left in this week"
            help_text = "take it out, or the days that fall out of it"
            scope.report(IDLE_FACT, week.node.first, message, help_text)
            continue
        for key in idle:
            message = "no lesson is left for this program"
            scope.report(IDLE_FACT, week.lines[key], message, "take the line out")


def report_no_program(
    scope: Scope, day: date, number: int, week: WeekPlan | None, after: WeekPlan | None
) -> None:
    """Report a lesson day without a program, once for each week and weekday."""
    if week is not None:
        if scope.findings.first_time(("no program", week.node.start, day.weekday())):
            message = f"no program for {day_name(day)}, in week {number}"
            help_text = f'add `{WEEKDAYS[day.weekday()]} "…"`, or `use "…"` for all other days'
            scope.report(NO_PROGRAM, week.node.first, message, help_text)
    elif after is not None and scope.findings.first_time(("no week", number)):
        message = f"week {number} is not named, and has a lesson on {day_name(day)}"
        help_text = f'add `week {number} "…" {{ use "…" }}`, or `no lesson on {day.isoformat()}`'
        scope.report(
            NO_PROGRAM,
            scope.source.span(after.node.start, after.node.first.end),
            message,
            help_text,
        )
