"""Somebody comes, leaves or rests while the lesson runs: judged first, then in effect at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.plan.interpreter.actions import Action, SendBall
from feedscript.plan.model import Plan, Turns
from feedscript.plan.scene import Player
from feedscript.safety.changed_group import Changed, StillToCome, group_for, still_to_come
from feedscript.session.engine.by_hand.rungs import as_last_time
from feedscript.session.engine.guards import at_pace
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.session.operator.phases import ENDED, NOT_NOW, Happening
from feedscript.session.state.apply_rungs import has_begun
from feedscript.session.state.events import GroupChanged, GroupRefused
from feedscript.session.state.lanes import MAIN
from feedscript.tongues.text import _


async def change_roster(lesson: LiveRun, command: ChangeRoster, by: str) -> Diagnostic | None:
    """The group changes, or a diagnostic says why not and the lesson goes on as it was."""
    if lesson.phase in ENDED:
        return _too_late()
    judged: object = None
    refused: tuple[Diagnostic, ...] = ()
    while judged != (now := (group_now(lesson), lesson.timeline.pace)):
        judged, after, refused = now, lesson.roster.after(command), ()
        if isinstance(after, Diagnostic):
            return after
        # Also at the pace that a resumed lesson begins with.
        for pace in dict.fromkeys((1.0, lesson.timeline.pace)):
            refused = refused or await refused_at(
                lesson, pace, changed_group_of(lesson, after, command)
            )
        if lesson.phase in ENDED:
            return _too_late()
    roster = lesson.roster.change(command)  # as it is by now
    found = refused[0] if refused else roster
    if isinstance(found, Diagnostic):
        lesson.log(GroupRefused(slug=found.slug, message=found.message, by=by))
        return found
    lesson.log(GroupChanged(by=by, **msgspec.structs.asdict(command)))
    if command.change is RosterChange.JOIN and not has_begun(lesson.state, command.player):
        as_last_time(lesson, [command.player])
    lesson.happen(Happening.GROUP_CHANGED)
    return None


def _too_late() -> Diagnostic:
    return NOT_NOW.report(_("the lesson has ended"), help=_("change the group in the next one"))


async def refused_at(lesson: LiveRun, pace: float, changed: Changed) -> tuple[Diagnostic, ...]:
    """Why the group may not be so at this pace; empty when it may."""
    profiles = [launcher.profile for launcher in lesson.launchers]
    plan = lesson.plan if pace == 1.0 else at_pace(lesson.plan, pace)
    return await lesson.aside(lesson.fences.group_refusals, plan, profiles, changed)


def group_now(lesson: LiveRun) -> tuple[object, ...]:
    """What of the group is judged: who is here, and what was said of them."""
    roster = lesson.roster
    said = sorted(roster.said.items(), key=lambda one: one[0])
    return roster.players, roster.here, tuple(said)


def group_as_it_is(lesson: LiveRun) -> Changed:
    """The group that is here, and how far the lesson is."""
    here = tuple(one for one in lesson.roster.players if one.name in lesson.roster.here)
    return _changed(lesson, here, lesson.roster.said)


def with_those_here(lesson: LiveRun) -> Plan:
    """The plan with the group that is here, for what hangs on the group alone."""
    group = group_for(lesson.plan, group_as_it_is(lesson))
    return msgspec.structs.replace(lesson.plan, group=group)


def changed_group_of(lesson: LiveRun, players: tuple[Player, ...], wish: ChangeRoster) -> Changed:
    """The group as it would be, and how far the lesson is."""
    said = dict(lesson.roster.said)
    if wish.change is RosterChange.JOIN:
        said[wish.player] = (wish.stage, wish.level)
    return _changed(lesson, players, said)


def _changed(
    lesson: LiveRun,
    players: tuple[Player, ...],
    said: Mapping[str, tuple[str | None, str | None]],
) -> Changed:
    names = {player.name for player in players}
    theirs = [words for name, words in said.items() if name in names]
    flown = [ball.player for ball in lesson.recording.balls if not ball.shown]
    queued = [
        ball.player
        for launcher in lesson.launchers
        for ball in launcher.balls.values()
        if isinstance(ball.action, SendBall)
    ]
    had = Counter([*flown, *queued])
    return Changed(
        players=players,
        stages=tuple(stage for stage, _ in theirs if stage is not None),
        levels=tuple(level for _, level in theirs if level is not None),
        had={name: count for name, count in had.items() if name is not None},
        unnamed=had[None],
        step=lesson.course.step,
        slots_left=_slots_left(lesson),
        begun=dict(lesson.course.begun),
    )


def to_come_for_the_group(lesson: LiveRun) -> StillToCome:
    """What is left of the lesson for those who are here now; the same again while nothing of that
    has changed."""
    roster, course = lesson.roster, lesson.course
    about = (roster.here, course.step, _slots_left(lesson))
    if lesson.reckoned is None or lesson.reckoned[0] != about:
        players = tuple(one for one in roster.players if one.name in roster.here)
        changed = Changed(players=players, had={}, step=course.step, slots_left=about[2])
        lesson.reckoned = about, still_to_come(lesson.plan, changed)
    return lesson.reckoned[1]


def _slots_left(lesson: LiveRun) -> int | None:
    """Turns of the step under way that may still be given, the present one among them."""
    course = lesson.course
    step = lesson.plan.steps[course.step] if lesson.plan.steps else None
    if not isinstance(step, Turns):
        return None
    return step.slots - (course.turn.slot if course.turn is not None else 0)


def is_for_nobody(lesson: LiveRun, key: str, action: Action) -> bool:
    """Whether an action of this lane feeds a player who is not here any more.

    Outside turns and stations nobody in particular is fed, whatever the plan says.
    """
    if not isinstance(action, SendBall) or lesson.roster.is_here(action.player):
        return False
    return key != MAIN or lesson.course.turn is not None
