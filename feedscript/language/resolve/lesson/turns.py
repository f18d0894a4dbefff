"""Turns, and stations side by side."""

from __future__ import annotations

import math

from feedscript.diagnostics import Related
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.lesson.position import LONGEST_S, Position
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.lesson.step_pages import EMPTY, NESTED_TURNS, NOBODY, STATIONS
from feedscript.language.resolve.properties import text_of
from feedscript.language.resolve.scope import named
from feedscript.language.resolve.value_pages import NO_UNIT
from feedscript.language.words import listed
from feedscript.nearest import nearest
from feedscript.units import Dimension


def _allowed(step: t.RotateSyntax | t.EachSyntax, place: Position) -> bool:
    """Whether turns may begin here; reports where not."""
    if place.on_turn:
        word = _word(step)
        head = place.scope.source.span(step.start, step.start + len(word))
        message = f"`{word}` stands inside another turn"
        place.scope.report(NESTED_TURNS, head, message, "take one of the two out")
    return not place.on_turn


def _word(step: t.RotateSyntax | t.EachSyntax) -> str:
    if isinstance(step, t.RotateSyntax):
        return "rotate"
    return "for" if step.named else "for each player"


def rotate(lesson: LessonReader, step: t.RotateSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``rotate group every … { … }``."""
    allowed = _allowed(step, place)
    every_s, every_balls = _every(step, place)
    body = lesson.body(step.body, place.deeper(on_turn=True), "rotation")
    if not allowed or not body or (every_s is None and every_balls is None):
        return ()
    node = lesson.fields(step, place)
    return (p.RotateStatement(every_s=every_s, every_balls=every_balls, body=body, **node),)


def _every(step: t.RotateSyntax, place: Position) -> tuple[float | None, int | None]:
    if step.balls:
        return None, place.evaluator.whole(step.every, 1, 1000, "the balls of a turn")
    found = place.evaluator.amount(step.every)
    if found.dimension is Dimension.COUNT:
        written = place.scope.written(step.every)
        message = f"`{written}` has no unit, and a turn is a time or a number of balls"
        help_text = f"write `{written} balls` or `{written} min`"
        place.scope.report(NO_UNIT, step.every, message, help_text)
        return None, None
    value = place.evaluator.check(step.every, found, Dimension.TIME, "a turn")
    if math.isnan(value):
        return None, None
    return place.evaluator.within(step.every, Dimension.TIME, 1, LONGEST_S, "a turn"), None


def each(lesson: LessonReader, step: t.EachSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``for each player { … }``, without some of them, or ``for`` some by name."""
    allowed = _allowed(step, place)
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
        good &= _known(lesson, text, members, place)
        said.update(members)
    names = tuple(one for one in lesson.group.names if (one in said) == step.named)
    if good and not names:
        message = "this leaves out every player of the group"
        help_text = "leave fewer out, or take the turns out"
        place.scope.report(NOBODY, step.names[0], message, help_text)
    return names if good else ()


def _known(lesson: LessonReader, text: t.Text, members: tuple[str, ...], place: Position) -> bool:
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


def together(
    lesson: LessonReader, step: t.TogetherSyntax, place: Position
) -> tuple[p.Statement, ...]:
    """``together { station … }``."""
    if place.together:
        head = place.scope.source.span(step.start, step.start + len("together"))
        message = "`together` stands inside another"
        place.scope.report(STATIONS, head, message, "put the stations side by side")
    taken: dict[str, t.StationSyntax] = {}
    stations = []
    for station in step.stations:
        launcher = _launcher(lesson, station, place, taken)
        body = lesson.body(station.body, place.deeper(together=True), "station")
        span = place.scope.span(station)
        name = text_of(station.name)
        stations.append(p.StationStatement(name=name, launcher=launcher, body=body, span=span))
    if not step.stations and not place.scope.damaged(step):
        help_text = 'write `station "north" { … }`'
        place.scope.report(EMPTY, step, "this `together` has no station", help_text)
    return (p.TogetherStatement(stations=tuple(stations), **lesson.fields(step, place)),)


def _launcher(
    lesson: LessonReader,
    station: t.StationSyntax,
    place: Position,
    taken: dict[str, t.StationSyntax],
) -> str:
    scope = place.scope
    if station.launcher is not None:
        token = station.launcher
        if scope.look_up(named(token), t.Declaration) is None:
            return str(token)
        launcher = str(token)
    else:
        launcher = lesson.launchers[0].name
        if len(lesson.launchers) > 1:
            names = ", ".join(f"`{one.name}`" for one in lesson.launchers)
            message = "the station does not say which launcher is its own"
            help_text = f"write `on launcher` and one of {names}"
            scope.report(STATIONS, station.name, message, help_text)
            return launcher
    earlier = taken.setdefault(launcher, station)
    if earlier is not station:
        related = (Related(scope.span(earlier.name), "it is taken here"),)
        message = "two stations share one launcher"
        help_text = "give each station a launcher: `launcher north { … }`, `on launcher north`"
        scope.report(STATIONS, station.name, message, help_text, related)
    return launcher
