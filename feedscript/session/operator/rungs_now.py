"""Who stands on which rung of which progression: for the coach, as long as the lesson goes on."""

from __future__ import annotations

from collections.abc import Iterator

from feedscript.session.engine.by_hand.rungs import may_be_set
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.view import RungView


def rungs_now(lesson: LiveRun) -> tuple[RungView, ...]:
    """Of everybody who is here, in the order of the group."""
    return tuple(_rungs(lesson))


def _rungs(lesson: LiveRun) -> Iterator[RungView]:
    state = lesson.state
    for number, progression in enumerate(lesson.plan.progressions):
        for player in lesson.roster.players:
            if player.name not in lesson.roster.here:
                continue
            key = (number, lesson.roster.number(player.name))
            rung, last_time = state.stands.get(key, 0), state.as_last_time.get(key)
            yield RungView(
                player=player.name,
                progression=progression.name,
                rung=rung,
                rungs=progression.rungs,
                as_last_time=rung == last_time,
                may_be_set=may_be_set(lesson, player.name, number),
            )
