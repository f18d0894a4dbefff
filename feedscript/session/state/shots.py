"""The players' own shots in a lesson: of which go at an exercise, and what they brought about."""

from __future__ import annotations

from feedscript.plan.model import Plan, Target
from feedscript.session.group.goals import Shot, goal_words, standing
from feedscript.session.group.recording import Recording
from feedscript.session.group.records import FlownBall, Go
from feedscript.session.state.exercises import exercise_of
from feedscript.session.state.run_state import RunState


def target_of(plan: Plan, ball: FlownBall) -> Target | None:
    """The target of the exercise that a ball was part of."""
    exercise = exercise_of(plan, ball.go.exercise)
    return None if exercise is None else exercise.target


def in_target(plan: Plan, state: RunState, ball: FlownBall, landing_m: tuple[float, float]) -> bool:
    """Whether the shot that its player made of a ball came down in the target."""
    target = target_of(plan, ball)
    players = state.roster.players
    left = any(player.left_handed for player in players if player.name == ball.player)
    return target is not None and target.holds(landing_m, left=left)


def shots_of(recording: Recording, go: Go) -> list[Shot]:
    """The balls of one go at an exercise, in the order in which they left."""
    results = {record.ball.feed_id: record.result for record in recording.records}
    return [
        Shot(ball.feed_id, ball.player, results.get(ball.feed_id))
        for ball in sorted(recording.balls, key=lambda ball: ball.feed_id)
        if ball.go == go and not ball.shown
    ]


def newly_met(plan: Plan, state: RunState, recording: Recording, feed_id: int) -> list[str]:
    """What everyone is told when this ball's record met a goal or ended a game."""
    ball = next((ball for ball in recording.balls if ball.feed_id == feed_id), None)
    exercise = None if ball is None else exercise_of(plan, ball.go.exercise)
    if ball is None or exercise is None:
        return []
    names = [player.name for player in state.roster.players]
    now = standing(exercise, shots_of(recording, ball.go), names)
    target = "" if exercise.target is None else exercise.target.name
    told = [
        f"{tried.player or 'Everyone'}: goal met, {goal_words(goal, target)}."
        for goal, players in zip(exercise.goals, now.goals, strict=True)
        for tried in players
        if tried.met_by == feed_id
    ]
    for side in now.sides:
        if side.over_by == feed_id:
            who = " and ".join(player or "everyone" for player in side.players)
            winner = who if side.won else "the launcher"
            told.append(f"Game to {winner}, {side.points} to {side.against}.")
    return told
