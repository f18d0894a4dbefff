"""What stands on every screen until it changes: who is on, who is next, what was last said."""

from __future__ import annotations

from collections.abc import Sequence

from feedscript.plan.bodies import within
from feedscript.plan.interpreter.actions import Speak
from feedscript.plan.model import Together
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.group.rotation import Role
from feedscript.session.operator.view import StationNow


def on_court(lesson: LiveRun) -> tuple[str, ...]:
    """The names of the stations where somebody is on; outside of those, one without a name.

    The way through the plan may be ahead of the court by a minute: stations whose last balls are
    queued are left by it, and go on here until they end.
    """
    names = {name for name in lesson.roster.on if name}
    forks = (step for step in within(lesson.plan.steps) if isinstance(step, Together))
    if names:
        for fork in forks:
            there = tuple(station.name for station in fork.stations)
            if names <= set(there):
                return there
    return lesson.stations()


def stations_now(
    lesson: LiveRun, names: Sequence[str], places: Sequence[tuple[str, str, Role]]
) -> tuple[StationNow, ...]:
    """The stations of these names. ``places`` are everyone's: player, station, role."""
    on = {station: player for player, station, role in places if role is Role.HITTER}
    following = {station: player for player, station, role in places if role is Role.SHADOW}
    if not on:  # nobody is on yet, so nobody stands behind anyone
        following = dict(zip(names, lesson.roster.waiting(), strict=False))
    return tuple(
        StationNow(
            name=name,
            on=on.get(name, ""),
            next_up=following.get(name, ""),
            said=last_said(lesson, name) if name else "",
        )
        for name in names
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
        and place[0].partition("/")[2] == station
        and spoken.get(place) is True
    )
    return next(said, "")
