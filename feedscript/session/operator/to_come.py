"""How many balls each player still has to come in the exercise that is on.

Where the program fixes the number, it is exact: no draw, no question, nobody who asks for balls.
It is the most as soon as a person leaves something out or begins it again, or the group changes.
A lesson without exercises is looked at as a whole.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping

import msgspec

from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.interpreter.actions import Jump, ToStep
from feedscript.plan.model import Exercise, Plan
from feedscript.safety.changed_group import Changed, most_balls_of_each, plan_for
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.place import begun_so_far
from feedscript.session.group.records import Go
from feedscript.session.operator.phases import ENDED
from feedscript.session.operator.view import ToComeView
from feedscript.session.state.exercises import steps_of_exercises
from feedscript.session.state.lanes import MAIN, is_later

#: Replies by which a series is begun again.
_AGAIN = (Jump.AGAIN, Jump.AGAIN_AFTER)


def to_come_of_each(lesson: LiveRun) -> Mapping[str, ToComeView]:
    """By the names of those who are here; nobody's between exercises and after the lesson."""
    on = _on(lesson)
    if on is None or lesson.phase in ENDED:
        return {}
    go, part, begun_at = on
    if not lesson.roster.by_plan:
        return _of_another_group(lesson, part)
    replies = _replies_since(lesson, begun_at)
    had = Counter[str | None]() if replies & {*_AGAIN} else _had(lesson, go)
    found = {}
    for (least, most), player in zip(_shares(lesson, go, part), lesson.roster.players, strict=True):
        if player.name in lesson.roster.here:
            exact = least == most and not replies
            found[player.name] = ToComeView(balls=max(0, most - had[player.name]), exact=exact)
    return found


def _on(lesson: LiveRun) -> tuple[Go, Plan, int] | None:
    """The go at an exercise that is on, that part of the plan alone, and where it was begun."""
    plan, on = lesson.plan, lesson.state.exercise
    if not any(isinstance(step, Exercise) for step in plan.steps):
        return Go(), plan, -1
    if on is None:
        return None
    step = steps_of_exercises(plan)[on.exercise - 1]
    play = begun_so_far(lesson).get(step, 0)
    return Go(on.exercise, play), _alone(plan, step), on.place


def _alone(plan: Plan, step: int) -> Plan:
    """A plan with this exercise only, done once."""
    its = plan.steps[step]
    assert isinstance(its, Exercise)
    return msgspec.structs.replace(plan, steps=(msgspec.structs.replace(its, repeats=0),))


def _shares(lesson: LiveRun, go: Go, part: Plan) -> tuple[tuple[int, int], ...]:
    """For each player the least and the most of one whole go; worked out once for an exercise."""
    if go.exercise not in lesson.shares:
        players = range(len(lesson.plan.group.players))
        lesson.shares[go.exercise] = tuple(balls_of_player(part, one) for one in players)
    return lesson.shares[go.exercise]


def _had(lesson: LiveRun, go: Go) -> Counter[str | None]:
    """The balls that left for each player in this go."""
    balls = lesson.state.left.values()
    return Counter(ball.player for ball in balls if ball.go == go and not ball.shown)


def _replies_since(lesson: LiveRun, begun_at: int) -> set[Jump | ToStep]:
    """How a person, or who is here, changed the written order since then."""
    since = (MAIN, begun_at)
    return {
        reply
        for place, reply in lesson.state.decisions.items()
        if isinstance(reply, Jump | ToStep) and is_later(place, since)
    }


def _of_another_group(lesson: LiveRun, part: Plan) -> dict[str, ToComeView]:
    """At most a whole go for those who are here, as a change of the group is judged."""
    players = tuple(one for one in lesson.roster.players if one.name in lesson.roster.here)
    if not players:
        return {}
    changed = Changed(players=players, had={}, step=0, slots_left=None)
    most = most_balls_of_each(plan_for(part, changed), changed)
    return {
        player.name: ToComeView(balls=math.ceil(balls), exact=False)
        for player, balls in zip(players, most, strict=True)
    }
