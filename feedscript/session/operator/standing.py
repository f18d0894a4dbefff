"""What stands on every screen until it changes: who is on, who is next, what was last said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from feedscript.plan.interpreter.actions import Speak
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.group.rotation import Role
from feedscript.session.operator.view import NEXT, ON_COURT, StationNow
from feedscript.session.state.lanes import station_of
from feedscript.tongues.text import in_language


def on_court(lesson: LiveRun) -> tuple[str, ...]:
    """The names of the stations where somebody is on; outside of those, one without a name."""
    return tuple(one.name for one in lesson.stations_on_court()) or ("",)


def working(lesson: LiveRun) -> dict[str, tuple[str, ...]]:
    """Who works by themselves now, by the name of their station."""
    return {
        one.name: lesson.roster.here_of(one.players)
        for one in lesson.stations_on_court()
        if one.launcher is None
    }


def stations_now(
    lesson: LiveRun,
    names: Sequence[str],
    places: Sequence[tuple[str, str, Role]],
    alone: Mapping[str, Sequence[str]],
) -> tuple[StationNow, ...]:
    """The stations of these names. ``places`` are everyone's: player, station, role; ``alone`` who
    works by themselves, by station: all of them are on there."""
    on = {station: player for player, station, role in places if role is Role.HITTER}
    following = {station: player for player, station, role in places if role is Role.SHADOW}
    if not on:  # nobody is on yet, so nobody stands behind anyone
        busy = [name for names in alone.values() for name in names]
        fed = [name for name in names if name not in alone]
        following = dict(zip(fed, lesson.roster.waiting(busy), strict=False))
    return tuple(
        _station(lesson, name, alone.get(name, on.get(name, "")), following.get(name, ""))
        for name in names
    )


def _station(lesson: LiveRun, name: str, on: str | Sequence[str], next_up: str) -> StationNow:
    there = [on] if isinstance(on, str) else on
    return StationNow(
        name=name,
        on=", ".join(there),
        on_words=in_language(lesson.roster.speaks(there), ON_COURT),
        next_up=next_up,
        next_words=in_language(lesson.roster.speaks([next_up]), NEXT),
        said=last_said(lesson, name) if name else "",
    )


def last_said(lesson: LiveRun, station: str = "") -> str:
    """The last words of the program that were spoken at a station, or to everyone, however many
    names were called since; "" before any, and once the lesson is over."""
    if lesson.ending is not None:
        return ""
    spoken = lesson.state.decisions
    said = (
        action.text
        for place, action in reversed(lesson.course.announced)
        if isinstance(action, Speak)
        and station_of(place[0]) == station
        and spoken.get(place) is True
    )
    return next(said, "")
