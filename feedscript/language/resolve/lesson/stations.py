"""Stations side by side: those with a launcher, and those where players work by themselves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from feedscript.court.landmarks import End, Region
from feedscript.diagnostics import Related
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve import places
from feedscript.language.resolve.contents import feeds_in
from feedscript.language.resolve.lesson.position import LONGEST_S, Position
from feedscript.language.resolve.lesson.reader import LessonReader
from feedscript.language.resolve.lesson.step_pages import EMPTY, STATIONS, WORK
from feedscript.language.resolve.lesson.turns import allowed_here, collects_between, turn_s
from feedscript.language.resolve.properties import text_of
from feedscript.language.resolve.scope import named
from feedscript.units import Dimension

#: Half the side of the ground where people are whose station names a point. Design value, as for a
#: coach who stands still.
STATION_REACH_M = 1.0


def work(lesson: LessonReader, step: t.WorkSyntax, place: Position) -> tuple[p.Statement, ...]:
    """``work "…" for 2 min``: at a station, or of the whole group with the launcher off."""
    seconds = None
    if step.time is not None:
        seconds = place.evaluator.within(step.time, Dimension.TIME, 1, LONGEST_S, "the work")
    if not place.together and not place.checking:
        return _work_of_all(lesson, step, place, seconds)
    made = p.WorkStatement(text=text_of(step.text), seconds=seconds, **lesson.fields(step, place))
    return (made,)


def _work_of_all(
    lesson: LessonReader, step: t.WorkSyntax, place: Position, seconds: float | None
) -> tuple[p.Statement, ...]:
    """As a break: people are anywhere then, so the launcher is off until a person arms it."""
    if seconds is not None and not place.on_turn:
        if math.isnan(seconds):
            return ()
        fields = lesson.fields(step, place)
        return (p.CollectStatement(words=text_of(step.text), break_s=seconds, **fields),)
    written = place.scope.written(step)
    stations = f'`rotate stations every 6 min {{ station "…" {{ {written} }} … }}`'
    if place.on_turn:
        message = "`work` is for all at once, and this is the turn of one player"
        help_text = f"put it before or after the turns, or write {stations}"
    else:
        message = "`work` outside stations does not say how long it takes"
        help_text = f"write `{written} for 3 min`, or {stations}"
    place.scope.report(WORK, step, message, help_text)
    return ()


def work_time(
    _lesson: LessonReader, step: t.WorkTimeSyntax, place: Position
) -> tuple[p.Statement, ...]:
    """``for 2 min`` alone: nothing says what it is the time of."""
    written = place.scope.written(step)
    message = f"`{written}` says how long, and nothing says of what"
    help_text = (
        f'write `work "…" {written}` at a station without a launcher, or `rest` and the time'
    )
    place.scope.report(WORK, step, message, help_text)
    return ()


def rotate_stations(
    lesson: LessonReader, step: t.RotateStationsSyntax, place: Position
) -> tuple[p.Statement, ...]:
    """``rotate stations every T { station … }``: the group in parts, once to each of them."""
    good = allowed_here(step, place)
    every_s = turn_s(step.every, place)
    inner = place.deeper(on_turn=True)
    made = together(lesson, t.TogetherSyntax(step.start, step.end, step.stations), inner)
    good = collects_between(step, made, place) and good
    if not good or every_s is None or not step.stations:
        return ()
    node = lesson.fields(step, place)
    collects = step.collect is not None
    return (
        p.RotateStatement(every_s=every_s, every_balls=None, collects=collects, body=made, **node),
    )


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
        body = lesson.body(station.body, place.deeper(together=True), "station")
        launcher = None
        if not _by_themselves(lesson, station, place, body):
            launcher = _launcher(lesson, station, place, taken)
        made = p.StationStatement(
            name=text_of(station.name),
            launcher=launcher,
            body=body,
            span=place.scope.span(station),
            at_m=_ground(lesson, station, place),
        )
        stations.append(made)
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


def _ground(lesson: LessonReader, station: t.StationSyntax, place: Position) -> tuple[p.Point, ...]:
    """The outline of where the people of a station are; none where it does not say."""
    where = station.place
    if where is None:
        return ()
    if isinstance(where, t.Place) and len(where.parts) == 1 and where.parts[0].distance is None:
        region = places.area(place.evaluator, lesson.feeds.court, End.RECEIVER, where)
        return () if region is None else region.corners_m
    at = places.point(place.evaluator, lesson.feeds.court, End.RECEIVER, where)
    if at is None:
        return ()
    (x_m, y_m), r = at.point_m, STATION_REACH_M
    return Region(x_m - r, x_m + r, y_m - r, y_m + r).corners_m


def _by_themselves(
    lesson: LessonReader,
    station: t.StationSyntax,
    place: Position,
    body: tuple[p.Statement, ...],
) -> bool:
    """Whether the players of this station work without a launcher; reports a mixture of both."""
    works = any(isinstance(step, p.WorkStatement) for step in _within(body))
    odd = [step for step in _within(body) if not isinstance(step, _ALONE)]
    if not works and station.place is None:
        return station.launcher is None and not odd
    if station.launcher is None and not odd:
        return True
    sent = feeds_in(body)
    name = text_of(station.name)
    if station.launcher is not None or not (sent or odd):
        message = f'station "{name}" has a launcher, and `work` is for one that has none'
        help_text = f'put the work into a station of its own: `station "{name} 2" {{ work "…" }}`'
    else:
        what = f"it sends `{sent[0]}`" if sent else "more than work, words and rests stands in it"
        message = f'station "{name}" has no launcher, and {what}'
        help_text = _with_launcher(lesson, name)
    place.scope.report(WORK, station.name, message, help_text)
    return True


def _with_launcher(lesson: LessonReader, name: str) -> str:
    """The line that passes."""
    called = lesson.launchers[-1].name
    if called:
        return f'write `station "{name}" on launcher {called} {{ send … }}`, and leave the work out'
    head = f'`launcher north {{ … }}` and `station "{name}" on launcher north {{ send … }}`'
    return f"write {head}, and leave the work out"


#: What may stand in a station without a launcher. A collect is for everybody: in whatever station
#: it stands, the plan says where else.
_ALONE = p.WorkStatement | p.SayStatement | p.RestStatement | p.RepeatStatement | p.CollectStatement


def _within(steps: Sequence[p.Statement]) -> Iterator[p.Statement]:
    for step in steps:
        yield step
        if isinstance(step, p.RepeatStatement):
            yield from _within(step.body)
