"""On which rung of a progression a player begins: as last time, or as the coach wants it."""

from __future__ import annotations

from collections.abc import Collection

from feedscript.diagnostics import Diagnostic
from feedscript.journal.queries import rungs_so_far
from feedscript.journal.redaction import name_key
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.commands import SetRung
from feedscript.session.operator.phases import NOT_NOW, Phase
from feedscript.session.state.apply_rungs import has_begun, was_moved
from feedscript.session.state.events import StoodOn
from feedscript.session.state.plan_cursor import stand_at
from feedscript.tongues.text import _


def as_last_time(lesson: LiveRun, players: Collection[str]) -> None:
    """Put these players where their last lesson with the same progression left them.

    A player is a name by the project's one rule, whatever that lesson was called. A rung is the
    same if its feed is called the same: where the progression has no such feed any more, and in a
    rehearsal, everybody begins on the first.
    """
    if lesson.rehearsal or not lesson.plan.progressions:
        return
    last = {(note.key, note.progression): note.feed for note in rungs_so_far(lesson.journal)}
    for progression in lesson.plan.progressions:
        for player in players:
            feed = last.get((name_key(player), progression.name))
            if feed in progression.rungs[1:]:
                _stand_on(lesson, player, progression.name, progression.rungs.index(feed), "")


def _stand_on(lesson: LiveRun, player: str, progression: str, rung: int, by: str) -> None:
    rungs = next(one.rungs for one in lesson.plan.progressions if one.name == progression)
    lesson.log(StoodOn(player=player, progression=progression, rung=rung, feed=rungs[rung], by=by))


async def set_rung(lesson: LiveRun, command: SetRung, by: str) -> Diagnostic | None:
    """The coach puts a player on a rung, before their first ball."""
    progressions = {one.name: number for number, one in enumerate(lesson.plan.progressions)}
    number = progressions.get(command.progression)
    players = [player.name for player in lesson.roster.players]
    if number is None or command.player not in players:
        return NOT_NOW.report(
            _(
                "{player!r} stands on no step of {progression!r}",
                player=command.player,
                progression=command.progression,
            ),
            help=_("name a player and a progression of this lesson"),
        )
    if not 0 <= command.rung < len(lesson.plan.progressions[number].rungs):
        return NOT_NOW.report(
            _(
                "{progression!r} has no step {n}",
                progression=command.progression,
                n=command.rung + 1,
            ),
            help=_("choose one that is listed"),
        )
    if not may_be_set(lesson, command.player, number):
        return NOT_NOW.report(
            _("{player!r} has begun, so the lesson says which step it is", player=command.player),
            help=_("set it at the set-up, before the first ball"),
        )
    _stand_on(lesson, command.player, command.progression, command.rung, by)
    state = lesson.state
    lesson.course = stand_at(lesson.plan, state.decisions, state.done, state.first_stands)
    return None


def may_be_set(lesson: LiveRun, player: str, progression: int) -> bool:
    """Whether a player may be put on a rung now."""
    key = (progression, lesson.roster.number(player))
    begun = has_begun(lesson.state, player) or was_moved(lesson.state, key)
    return lesson.phase is Phase.SETTING_UP and not begun
