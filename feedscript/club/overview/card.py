"""What is shown of one court; the same for phone, wall and its group's screen."""

from __future__ import annotations

from collections.abc import Set
from enum import StrEnum
from typing import Any

import msgspec

from feedscript.club.messages import Court, StopState, StopTold
from feedscript.club.overview.followed import Followed
from feedscript.launcher.port import LauncherState
from feedscript.plan.bodies import within
from feedscript.plan.model import Plan, Together
from feedscript.session.group.rotation import Role
from feedscript.session.operator.phase_words import (
    ALARMS,
    HOMING,
    LAUNCHER_ALARMS,
    LAUNCHERS,
    NO_LINK,
    PHASES,
    STOPPING,
)
from feedscript.session.operator.phases import ENDED
from feedscript.session.state.exercises import exercise_of, steps_of_exercises
from feedscript.tongues.text import _

#: A STOP stands on its court's card for so long after its end, s. Design value.
STOP_SHOWN_S = 20.0


class Tone(StrEnum):
    """How a card should be seen from afar."""

    QUIET = "quiet"  # nobody plays there
    PLAIN = "plain"
    STOPPING = "stopping"
    ALARM = "alarm"


class Station(msgspec.Struct, frozen=True):
    """Who is on and who is next; "" for nobody, and where names are not for whoever looks."""

    name: str
    on: str
    next_up: str = ""


class LauncherCard(msgspec.Struct, frozen=True):
    """One launcher."""

    name: str
    words: str
    alarm: bool
    in_hopper: int | None


class ExerciseCard(msgspec.Struct, frozen=True):
    """The exercise that is on, of so many."""

    number: int
    of: int
    title: str
    aim: str = ""
    watch: str = ""


class LessonCard(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson. ``run_s`` goes on by itself while ``goes_on``."""

    title: str
    rehearsal: bool
    phase: str
    words: str
    ended: bool
    to_group: str
    exercise: ExerciseCard | None
    run_s: float
    planned_s: float | None
    goes_on: bool
    stations: tuple[Station, ...]
    players_here: int
    balls: int
    balls_most: int
    launchers: tuple[LauncherCard, ...]
    faults: tuple[str, ...]
    call: str


class StopCard(msgspec.Struct, frozen=True):
    """How far a STOP from the club has come."""

    state: StopState
    words: str


class CourtCard(msgspec.Struct, frozen=True, kw_only=True):
    """One court. ``since_utc_s``: when it was last heard, 0 for never."""

    host: str
    name: str
    heard: bool
    since_utc_s: float
    waiting: int
    tone: Tone
    lesson: LessonCard | None
    unread: str  # why nothing is shown of a lesson that runs; ""
    stop: StopCard | None


_STOPS: dict[StopState, str] = {
    StopState.ASKED: _("STOP asked: the court has not heard it yet."),
    StopState.HEARD: _("STOP has come to the court. A ball may still leave until it is confirmed."),
    StopState.LOST: _("STOP was not confirmed. Go there, and press the launcher's own switch."),
    StopState.STOPPED: _("Stopped: every launcher has confirmed it."),
    StopState.NOTHING: _("There was nothing to stop."),
}
#: As long as one of these is the last word, nothing may be taken for stopped.
_OPEN = (StopState.ASKED, StopState.HEARD)


def card_of(
    court: Court, lesson: Followed | None, stop: StopTold | None, now_s: float, unread: str = ""
) -> CourtCard:
    """What is shown of a court now."""
    known_s = now_s if court.heard else min(now_s, court.since_utc_s)
    shown = None if lesson is None else _lesson(lesson, stop, known_s, heard=court.heard)
    return CourtCard(
        host=court.host,
        name=court.name,
        heard=court.heard,
        since_utc_s=court.since_utc_s,
        waiting=court.waiting,
        tone=_tone(court, lesson, stop, unread),
        lesson=shown,
        unread=unread,
        stop=None if stop is None else StopCard(stop.state, _stop_words(stop)),
    )


def not_confirmed(stop: StopTold) -> bool:
    """Whether a launcher is still by its watchdog's time alone, without a word of its own."""
    return stop.state is StopState.STOPPED and bool(stop.says)


def _stop_words(stop: StopTold) -> str:
    words = _STOPS[stop.state]
    if not_confirmed(stop):
        return _("Stopped, but not confirmed by every launcher. {each}. Go there.", each=stop.says)
    if stop.state is StopState.NOTHING and stop.says:
        return _("There was nothing to stop: {why}", why=stop.says)
    return words


def _tone(court: Court, lesson: Followed | None, stop: StopTold | None, unread: str) -> Tone:
    if stop is not None and (stop.state is StopState.LOST or not_confirmed(stop)):
        return Tone.ALARM
    if stop is not None and stop.state in _OPEN:
        return Tone.STOPPING
    if unread:
        return Tone.ALARM if not court.heard else Tone.PLAIN
    if lesson is None or (lesson.state.ending is not None and not lesson.stopping):
        return Tone.QUIET
    lost = any(not one.linked for one in lesson.launchers)
    if not court.heard or lost or lesson.state.ending is not None:
        return Tone.ALARM
    if lesson.stopping:
        return Tone.STOPPING
    bad = any(one.state in _BAD for one in lesson.launchers)
    return Tone.ALARM if bad or lesson.state.phase in ALARMS else Tone.PLAIN


#: A launcher in such a state should be looked after; one that runs down after a stop is none.
_BAD = tuple(state for state in LAUNCHER_ALARMS if state is not LauncherState.STOPPING)


def _lesson(lesson: Followed, stop: StopTold | None, now_s: float, *, heard: bool) -> LessonCard:
    state = lesson.state
    asked = stop is not None and stop.state in _OPEN and state.phase not in ENDED
    words = STOPPING if lesson.stopping or asked else PHASES[state.phase]
    call = state.calls[-1].text if state.calls and state.ending is None else ""
    return LessonCard(
        title=lesson.plan.title,
        rehearsal=lesson.header.rehearsal,
        phase=state.phase.value,
        words=words.name,
        ended=state.ending is not None,
        to_group=words.to_group,
        exercise=_exercise(lesson),
        run_s=round(lesson.run_s(now_s), 1),
        planned_s=lesson.plan.planned_s,
        goes_on=heard and state.ending is None,
        stations=_stations(lesson),
        players_here=len(state.roster.here),
        balls=len(state.left),
        balls_most=lesson.plan.bounds.balls[1],
        launchers=_launchers(lesson),
        faults=_faults(lesson),
        call=call,
    )


def _exercise(lesson: Followed) -> ExerciseCard | None:
    on = lesson.state.exercise
    its = None if on is None else exercise_of(lesson.plan, on.exercise)
    if on is None or its is None:
        return None
    of = len(steps_of_exercises(lesson.plan))
    return ExerciseCard(on.exercise, of, its.title, its.aim, its.watch)


def _stations(lesson: Followed) -> tuple[Station, ...]:
    """The stations side by side, or the one place outside of them."""
    roster = lesson.state.roster
    if lesson.state.phase in ENDED or lesson.state.ending is not None:
        return ()
    alone = lesson.alone()
    aside = frozenset() if "" in roster.on else lesson.at
    names = _in_the_plans_order(lesson.plan, {*roster.on, *alone, *aside}) or ("",)
    places = roster.places(names, alone)
    following = {station: player for player, station, role in places if role is Role.SHADOW}
    if not roster.on:  # nobody is on yet, so nobody stands behind anyone
        fed = [name for name in names if name not in alone]
        busy = [name for players in alone.values() for name in players]
        following = dict(zip(fed, roster.waiting(busy), strict=False))
    on = {**roster.on, **{name: ", ".join(players) for name, players in alone.items()}}
    return tuple(Station(name, on.get(name, ""), following.get(name, "")) for name in names)


def _in_the_plans_order(plan: Plan, names: Set[str]) -> tuple[str, ...]:
    """Those of stations side by side, by which whoever waits is spread over them."""
    forks = (one.stations for one in within(plan.steps) if isinstance(one, Together))
    orders = (tuple(station.name for station in stations) for stations in forks)
    found = next((order for order in orders if names <= set(order)), tuple(names))
    return tuple(name for name in found if name in names)


def _launchers(lesson: Followed) -> tuple[LauncherCard, ...]:
    """Those of a lesson that has not ended: nothing is known of them afterwards, but that one may
    not have stopped."""
    if lesson.state.ending is not None and not lesson.stopping:
        return ()
    return tuple(_launcher(lesson, index) for index in range(len(lesson.launchers)))


def _launcher(lesson: Followed, index: int) -> LauncherCard:
    now = lesson.launchers[index]
    words: Any = LAUNCHERS[now.state] if now.linked else NO_LINK
    if now.homing and now.linked:
        words = HOMING
    if now.fault:
        words = _("fault: {fault}", fault=now.fault)
    return LauncherCard(
        name=lesson.plan.launchers[index].name,
        words=words,
        alarm=not now.linked or now.state in _BAD,
        in_hopper=lesson.in_hopper(index),
    )


def _faults(lesson: Followed) -> tuple[str, ...]:
    """Why it does not run, then what was shown last; each once."""
    found = [lesson.state.cause] if lesson.state.cause else []
    found += [trouble.words for trouble in reversed(lesson.troubles[-3:])]
    return tuple(dict.fromkeys(found))


def without_names(card: CourtCard) -> CourtCard:
    """The same for one who may not see who plays: that somebody is on is no secret."""
    if card.lesson is None:
        return card
    bare = tuple(Station(one.name, "") for one in card.lesson.stations)
    lesson = msgspec.structs.replace(card.lesson, stations=bare, call="", faults=())
    return msgspec.structs.replace(card, lesson=lesson)
