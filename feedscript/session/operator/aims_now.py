"""The target, goals and score of the exercise that is on court, worked out for a view."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from feedscript.plan.model import Exercise, Target
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.group.goals import (
    Standing,
    goal_words,
    row_words,
    side_words,
    standing,
    tried_words,
)
from feedscript.session.group.records import Go
from feedscript.session.operator.aims import (
    AimsView,
    GoalView,
    RowView,
    SideView,
    TargetView,
    Tried,
)
from feedscript.session.state.exercises import exercise_of, go_on_now
from feedscript.session.state.shots import shots_of
from feedscript.tongues.text import in_language

#: A row of good shots is told from so many on: common practice, no source.
ROW_SHOWN = 3


def on_court_now(lesson: LiveRun) -> Go:
    """The go at an exercise that is on court: that of the ball that comes next; before one comes,
    of the exercise that has begun; after the last, of the last ball."""
    coming = [b for a in lesson.launchers for b in a.balls.values() if b.outcome is None]
    if coming:
        return min(coming, key=lambda ball: ball.lesson_s).go
    begun = go_on_now(lesson.course)
    balls = lesson.recording.balls
    return begun if begun.exercise or not balls else balls[-1].go


def has_target(lesson: LiveRun) -> bool:
    """Whether a shot in the target can be recorded: now, or of the newest ball."""
    goes = [on_court_now(lesson), *(ball.go for ball in lesson.recording.balls[-1:])]
    exercises = [exercise_of(lesson.plan, go.exercise) for go in goes]
    return any(one is not None and one.target is not None for one in exercises)


def aims_now(lesson: LiveRun) -> AimsView | None:
    """What is seen of it; None where the exercise wants nothing of the players' own shots."""
    go = on_court_now(lesson)
    exercise = exercise_of(lesson.plan, go.exercise)
    if exercise is None or not (exercise.target or exercise.goals or exercise.score):
        return None
    names = [player.name for player in lesson.roster.players]
    now = standing(exercise, shots_of(lesson.recording, go), names)
    score = exercise.score
    launcher = score is not None and bool(score.against)

    def theirs(players: Sequence[str | None], words: str) -> str:
        return in_language(lesson.roster.speaks(players), words)

    return AimsView(
        target=_target(lesson, exercise.target),
        goals=_goals(exercise, now, theirs),
        rows=tuple(
            RowView(
                player=row.player or "",
                running=row.running,
                words=theirs([row.player], row_words(row)),
            )
            for row in now.rows
            if row.running >= ROW_SHOWN
        ),
        score=tuple(
            SideView(
                players=tuple(player or "" for player in side.players),
                points=side.points,
                against=side.against,
                won=side.won,
                lost=side.lost,
                words=theirs(side.players, side_words(side, launcher=launcher)),
            )
            for side in now.sides
        ),
        scored=score is not None,
        to=None if score is None else score.to,
        launcher=launcher,
    )


def _target(lesson: LiveRun, target: Target | None) -> TargetView | None:
    if target is None:
        return None
    on = set(lesson.roster.on.values()) or set(lesson.roster.here)  # all, where nobody has a turn
    hands = {player.left_handed for player in lesson.roster.players if player.name in on}
    return TargetView(
        name=target.name,
        marked=target.marked,
        outlines_m=target.outlines_for(left=hands == {True}),
    )


def _goals(
    exercise: Exercise, now: Standing, theirs: Callable[[Sequence[str | None], str], str]
) -> tuple[GoalView, ...]:
    target = "" if exercise.target is None else exercise.target.name
    return tuple(
        GoalView(
            words=goal_words(goal, target),
            players=tuple(
                Tried(
                    player=one.player or "",
                    made=one.made,
                    met=one.met,
                    words=theirs([one.player], tried_words(one)),
                )
                for one in players
            ),
        )
        for goal, players in zip(exercise.goals, now.goals, strict=True)
    )
