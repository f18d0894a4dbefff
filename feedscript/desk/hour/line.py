"""The hour as a line to scale: the lesson's steps, who is on when, and where each child waits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.desk.hour.clock import Clock, Happens, clock_of
from feedscript.desk.hour.tight import Tight, tightest
from feedscript.desk.offsets import BrowserOffsets
from feedscript.diagnostics import Span
from feedscript.editor.document import Document
from feedscript.editor.lengths import WHOLE, lengths_of
from feedscript.editor.order import is_exercise, lesson_in
from feedscript.language.parse import tree as t
from feedscript.plan.interpreter.actions import PickUp, SendBall, StartStations
from feedscript.plan.model import Exercise, Plan
from feedscript.review.drawing.timeline import PLAYED_S, STAY_PAUSE_S
from feedscript.tongues.text import _, p_

#: Longer names of steps are cut. Design value.
_TITLE = 48


class LineLength(msgspec.Struct, frozen=True, kw_only=True):
    """A number that can be another one; see ``feedscript.editor.lengths.Length``."""

    before: str
    after: str
    written: str
    value: float | None
    unit: str
    step: float


class LineBlock(msgspec.Struct, frozen=True, kw_only=True):
    """A step of the lesson's words, from when to when; its balls and people fill ``filled_s``.

    ``step``: its number among the steps as written. ``start``, ``end``: its words, as a browser
    counts.
    """

    step: int
    kind: str
    title: str
    exercise: bool
    begin_s: float
    end_s: float
    filled_s: float
    start: int
    end: int
    lengths: tuple[LineLength, ...]


class LineMark(msgspec.Struct, frozen=True, array_like=True):
    """Something of a row, from when to when. ``child``: whose, by number, if one's."""

    begin_s: float
    end_s: float
    words: str
    child: int | None
    kind: str  # on, work, ready, collect, break, watch, spare


class LineRow(msgspec.Struct, frozen=True):
    """A station, or the one launcher, with its turns."""

    name: str
    marks: tuple[LineMark, ...]


class LineChild(msgspec.Struct, frozen=True, kw_only=True):
    """What one player does in the hour; times in seconds, ``longest``: the longest wait."""

    name: str
    balls: int
    plays_s: float
    works_s: float
    waits_s: float
    longest: tuple[float, float]


class HourLine(msgspec.Struct, frozen=True, kw_only=True):
    """Everything of the hour that is drawn. ``lengths``: of the lesson as a whole."""

    whole_s: float
    planned_s: float | None
    lengths: tuple[LineLength, ...]
    blocks: tuple[LineBlock, ...]
    rows: tuple[LineRow, ...]
    stops: tuple[LineMark, ...]
    children: tuple[LineChild, ...]
    tight: tuple[Tight, ...]


def hour_line(document: Document) -> HourLine | None:
    """The hour of a document, refused or not; None of one that has no lesson to lay out.

    Given up with the document's memo.
    """
    verdict = document.verdict
    plan = verdict.plan or verdict.draft
    lesson = lesson_in(document.scope)
    if plan is None or lesson is None or verdict.program is None or verdict.places is None:
        return None
    clock = clock_of(plan, document.memo)
    stops = tuple(_stops(clock))
    rows = tuple(_rows(plan, clock, stops))
    document.memo.go_on()
    children = tuple(_children(plan, clock, rows, stops))
    document.memo.go_on()
    return HourLine(
        whole_s=clock.whole_s,
        planned_s=plan.planned_s,
        lengths=_lengths(document, WHOLE),
        blocks=tuple(_blocks(document, verdict, plan, clock, lesson)),
        rows=rows,
        stops=stops,
        children=children,
        tight=tightest(document, verdict, clock),
    )


# --- the steps


def _blocks(
    document: Document, verdict: Verdict, plan: Plan, clock: Clock, lesson: t.Lesson
) -> Iterator[LineBlock]:
    units = BrowserOffsets(document.text)
    written = _written(document, verdict, lesson)
    for step, numbers in groupby(range(len(plan.steps)), lambda number: written[number]):
        inside = list(numbers)
        if step is None:
            continue
        node = lesson.body.steps[step]
        words = document.text[node.start : node.end].rstrip()
        steps = [clock.steps[number] for number in inside]
        yield LineBlock(
            step=step,
            kind=_kind(node),
            title=_title([plan.steps[number] for number in inside], words),
            exercise=is_exercise(node),
            begin_s=clock.begins_s[inside[0]],
            end_s=clock.begins_s[inside[-1] + 1],
            filled_s=sum(one.whole_s - one.spare_s for one in steps),
            start=units(node.start),
            end=units(node.start + len(words)),
            lengths=_lengths(document, step),
        )


def _written(document: Document, verdict: Verdict, lesson: t.Lesson) -> list[int | None]:
    """For each step of the plan the number of the step of the words that it comes from."""
    program, places = verdict.program, verdict.places
    assert program is not None
    assert places is not None
    found = [_step_at(document, lesson, (*one.calls, one.span)[0]) for one in program.lesson]
    return [found[number] for number in places.lesson]


def _step_at(document: Document, lesson: t.Lesson, span: Span) -> int | None:
    source = document.scope.source
    if span.source != source.name:
        return None
    at = source.offset(span.line, span.column)
    steps = enumerate(lesson.body.steps)
    return next((number for number, one in steps if one.start <= at < one.end), None)


def _kind(node: t.SyntaxNode) -> str:
    if is_exercise(node):
        return "exercise"
    if isinstance(node, t.CollectSyntax):
        return "collect"
    if isinstance(node, t.BreakSyntax | t.WaitSyntax):
        return "break"
    return "stations" if isinstance(node, t.RotateStationsSyntax | t.TogetherSyntax) else "step"


def _title(steps: Sequence[object], words: str) -> str:
    titles = [one.title for one in steps if isinstance(one, Exercise)]
    if titles:
        return ", ".join(titles)
    plain = " ".join(words.partition("{")[0].split())
    return plain if len(plain) <= _TITLE else f"{plain[: _TITLE - 1]}…"


def _lengths(document: Document, step: int) -> tuple[LineLength, ...]:
    return tuple(
        LineLength(
            before=one.before,
            after=one.after,
            written=one.written,
            value=one.value,
            unit=one.unit,
            step=one.step,
        )
        for one in lengths_of(document.scope, step)
    )


# --- who is on


def _rows(plan: Plan, clock: Clock, stops: Sequence[LineMark]) -> Iterator[LineRow]:
    found: dict[str, list[LineMark]] = {}
    for one in clock.happens:
        if isinstance(one.action, SendBall):
            _add_ball(plan, found.setdefault(one.action.station, []), one, one.action)
        elif isinstance(one.action, StartStations):
            _add_work(plan, found, one, one.action)
    # Turns of the whole group come first, then stations as they are met.
    for name, marks in sorted(found.items(), key=lambda row: row[0] != ""):
        yield LineRow(name, tuple(_until_stop(one, stops) for one in marks))


def _until_stop(mark: LineMark, stops: Sequence[LineMark]) -> LineMark:
    """A turn is over when the launcher is off, though its last ball may still be in the air."""
    ends_s = (one.begin_s for one in stops if one.begin_s > mark.begin_s)
    return msgspec.structs.replace(mark, end_s=min(mark.end_s, min(ends_s, default=mark.end_s)))


def _add_ball(plan: Plan, row: list[LineMark], one: Happens, ball: SendBall) -> None:
    """A ball of whoever was on before makes that turn longer."""
    end_s = one.at_s + plan.feeds[ball.feed].flight_s + PLAYED_S
    last = row[-1] if row else None
    if last and last.child == ball.player and one.at_s - last.end_s <= STAY_PAUSE_S:
        row[-1] = msgspec.structs.replace(last, end_s=end_s)
        return
    name = _("the group") if ball.player is None else plan.group.players[ball.player].name
    row.append(LineMark(one.at_s, end_s, name, ball.player, "on"))


def _add_work(
    plan: Plan, found: dict[str, list[LineMark]], one: Happens, start: StartStations
) -> None:
    """Who works at a station without a launcher does so for the whole round."""
    lasts_s = start.until_s - start.at_s
    for run in start.stations:
        row = found.setdefault(run.name, [])
        for player in run.players if run.launcher is None else ():
            name = plan.group.players[player].name
            row.append(LineMark(one.at_s, one.at_s + lasts_s, name, player, "work"))


def _stops(clock: Clock) -> Iterator[LineMark]:
    """When nothing leaves and nobody waits: people get ready, collect, have a break."""
    yield LineMark(0.0, clock.begins_s[0], _("getting ready"), None, "ready")
    for one in clock.stands:
        kind = "watch"
        words: str = _("a speed is watched")
        if isinstance(one.action, PickUp):
            kind, called = "collect", p_("time line", "collect")
            if one.action.break_s is not None:
                kind, called = "break", p_("time line", "break")
            words = one.action.words or called
        yield LineMark(one.begin_s, one.end_s, words, None, kind)
    for step, end_s in zip(clock.steps, clock.begins_s[1:], strict=True):
        if step.spare_s > 0.0:
            yield LineMark(end_s - step.spare_s, end_s, _("minutes to spare"), None, "spare")
    yield LineMark(clock.begins_s[-1], clock.whole_s, _("the last balls"), None, "collect")


# --- what each child does


def _children(
    plan: Plan, clock: Clock, rows: Sequence[LineRow], stops: Sequence[LineMark]
) -> Iterator[LineChild]:
    sent = [one.action for one in clock.happens if isinstance(one.action, SendBall)]
    marks = [mark for row in rows for mark in row.marks]
    for number, player in enumerate(plan.group.players):
        own = [mark for mark in marks if mark.child == number]
        on = _lasts_s(mark for mark in own if mark.kind == "on")
        works = _lasts_s(mark for mark in own if mark.kind == "work")
        waits = list(_gaps([*own, *stops], clock.whole_s))
        yield LineChild(
            name=player.name,
            balls=sum(ball.player == number for ball in sent),
            plays_s=on,
            works_s=works,
            waits_s=sum(end_s - begin_s for begin_s, end_s in waits),
            longest=max(waits, key=lambda wait: wait[1] - wait[0], default=(0.0, 0.0)),
        )


def _lasts_s(marks: Iterable[LineMark]) -> float:
    return sum(mark.end_s - mark.begin_s for mark in marks)


def _gaps(marks: Sequence[LineMark], whole_s: float) -> Iterator[tuple[float, float]]:
    """What lies between them, from nothing to the end."""
    reached_s = 0.0
    for mark in sorted(marks, key=lambda one: one.begin_s):
        if mark.begin_s > reached_s:
            yield reached_s, mark.begin_s
        reached_s = max(reached_s, mark.end_s)
    if whole_s > reached_s:
        yield reached_s, whole_s
