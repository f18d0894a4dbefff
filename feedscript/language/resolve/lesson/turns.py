"""Turns, and stations side by side."""

from __future__ import annotations

import math
from typing import TypeAlias

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.lesson.position import LONGEST_S, Position
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.lesson.step_pages import NESTED_TURNS, NOBODY, STATIONS
from feedscript.language.resolve.properties import text_of
from feedscript.language.resolve.value_pages import NO_UNIT
from feedscript.language.words import listed
from feedscript.nearest import nearest
from feedscript.units import Dimension

Turned: TypeAlias = t.RotateSyntax | t.RotateStationsSyntax | t.EachSyntax


def allowed_here(step: Turned, place: Position) -> bool:
    """Whether turns may begin here; reports where not."""
    if place.on_turn:
        word = _word(step)
        head = place.scope.source.span(step.start, step.start + len(word))
        message = f"`{word}` stands inside another turn"
        place.scope.report(NESTED_TURNS, head, message, "take one of the two out")
    return not place.on_turn


def _word(step: Turned) -> str:
    if not isinstance(step, t.EachSyntax):
        return "rotate"
    return "for" if step.named else "for each player"


def rotate(lesson: LessonReader, step: t.RotateSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``rotate group every … { … }``."""
    allowed = allowed_here(step, place)
    every_s, every_balls = _every(step, place)
    body = lesson.body(step.body, place.deeper(on_turn=True), "rotation")
    allowed = collects_between(step, body, place) and allowed
    if not allowed or not body or (every_s is None and every_balls is None):
        return ()
    node = lesson.fields(step, place)
    turns = p.RotateStatement(
        every_s=every_s,
        every_balls=every_balls,
        collects=step.collect is not None,
        body=body,
        **node,
    )
    return (turns,)


def collects_between(
    step: t.RotateSyntax | t.RotateStationsSyntax,
    body: tuple[p.Statement, ...],
    place: Position,
) -> bool:
    """Whether there are rounds of several stations to collect between, where that is written."""
    if step.collect is None or not body:
        return True
    stations = body[0] if len(body) == 1 else None
    if isinstance(stations, p.TogetherStatement) and not place.together:
        if len(stations.stations) != 1:
            return True
        message = "one station is one round, and between rounds there is nothing to collect"
        help_text = "leave `collect between` out, and write `collect` after it"
    else:
        message = "`collect between` is for stations, between their rounds"
        help_text = (
            "write `for each player { … collect }` to collect after each turn, or "
            "`rotate stations every 6 min, collect between { station … }`"
        )
    place.scope.report(STATIONS, step.collect, message, help_text)
    return False


def _every(step: t.RotateSyntax, place: Position) -> tuple[float | None, int | None]:
    if step.balls:
        return None, place.evaluator.whole(step.every, 1, 1000, "the balls of a turn")
    return turn_s(step.every, place, "`{0} balls` or `{0} min`"), None


def turn_s(every: t.Value, place: Position, fix: str = "`{0} min`") -> float | None:
    """How long a turn is; None where it is wrong (reported, with ``fix`` for a bare number)."""
    found = place.evaluator.amount(every)
    if found.dimension is Dimension.COUNT:
        written = place.scope.written(every)
        what = "a time or a number of balls" if "balls" in fix else "a time"
        message = f"`{written}` has no unit, and a turn is {what}"
        place.scope.report(NO_UNIT, every, message, f"write {fix.format(written)}")
        return None
    value = place.evaluator.check(every, found, Dimension.TIME, "a turn")
    if math.isnan(value):
        return None
    return place.evaluator.within(every, Dimension.TIME, 1, LONGEST_S, "a turn")


def each(lesson: LessonReader, step: t.EachSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``for each player { … }``, without some of them, or ``for`` some by name."""
    allowed = allowed_here(step, place)
    names = _names(lesson, step, place)
    body = lesson.body(step.body, place.deeper(on_turn=True, names=names), "turn")
    if not allowed or not body or names == ():
        return ()
    fields = lesson.fields(step, place)
    return (p.EachPlayerStatement(body=body, names=names, named=step.named, **fields),)


def _names(lesson: LessonReader, step: t.EachSyntax, place: Position) -> tuple[str, ...] | None:
    """Whose turns these are, in the order of the group; None for everybody's.

    Empty where that is nobody, or a name that nobody has (reported).
    """
    if not step.names:
        return None
    said: set[str] = set()
    good = True
    for text in step.names:
        name = text_of(text).strip()
        lesson.named.add(name)
        members = lesson.group.subgroups.get(name, (name,))
        good &= is_known(lesson, text, members, place)
        said.update(members)
    names = tuple(one for one in lesson.group.names if (one in said) == step.named)
    if good and not names:
        message = "this leaves out every player of the group"
        help_text = "leave fewer out, or take the turns out"
        place.scope.report(NOBODY, step.names[0], message, help_text)
    return names if good else ()


def is_known(lesson: LessonReader, text: t.Text, members: tuple[str, ...], place: Position) -> bool:
    """Whether these are players of the group; reports where not."""
    group, name = lesson.group, text_of(text).strip()
    if all(member in group.names for member in members):
        return True
    near = nearest(name, (*group.names, *group.subgroups))
    whom = [f'"{one}"' for one in (*group.names, *group.subgroups)]
    help_text = f'name the players first: `group {{ players "{name}" }}`'
    if near is not None:
        help_text = f'did you mean "{near}"?'
    elif whom:
        help_text = f'write {listed(whom)}, or add `players "{name}"` to the group'
    message = f'nobody in the group is called "{name}"'
    place.scope.report(NOBODY, text, message, help_text)
    return False
