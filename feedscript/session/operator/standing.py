"""What stands on every screen until it changes: who is on, who is next, what was last said."""

from __future__ import annotations

from collections.abc import Sequence

from feedscript.plan.interpreter.actions import Speak
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.group.rotation import Role
from feedscript.session.operator.view import StationNow


def stations_now(
    lesson: LiveRun, places: Sequence[tuple[str, str, Role]]
) -> tuple[StationNow, ...]:
    """The stations side by side now. ``places`` are everyone's: player, station, role."""
    names = lesson.stations()
    on = {station: player for player, station, role in places if role is Role.HITTER}
    following = {station: player for player, station, role in places if role is Role.SHADOW}
    if not on:  # nobody is on yet, so nobody stands behind anyone
        following = dict(zip(names, lesson.roster.waiting(), strict=False))
    lanes = {lane.partition("/")[2]: lane for lane in lesson.course.stations()}
    return tuple(
        StationNow(
            name=name,
            on=on.get(name, ""),
            next_up=following.get(name, ""),
            said=last_said(lesson, lanes[name]) if name in lanes else "",
        )
        for name in names
    )


def last_said(lesson: LiveRun, lane: str) -> str:
    """The last words of the program that were spoken in this lane, however many names were called
    since; "" before any, and once the lesson is over."""
    if lesson.ending is not None:
        return ""
    spoken = lesson.state.decisions
    said = (
        action.text
        for place, action in reversed(lesson.course.announced)
        if isinstance(action, Speak) and place[0] == lane and spoken.get(place) is True
    )
    return next(said, "")
