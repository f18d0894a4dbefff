"""The players' own shots in a lesson: of which go at an exercise, and what they brought about."""

from __future__ import annotations

from typing import TypeAlias

from feedscript.plan.model import Plan, Target
from feedscript.session.group.goals import Shot, Side, goal_words, standing
from feedscript.session.group.recording import Recording
from feedscript.session.group.records import FlownBall, Go
from feedscript.session.state.exercises import exercise_of
from feedscript.session.state.run_state import RunState
from feedscript.tongues.text import _, listed


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


#: Whose something is, and what everyone is told of it.
Told: TypeAlias = tuple[tuple[str | None, ...], str]


def newly_met(plan: Plan, state: RunState, recording: Recording, feed_id: int) -> list[Told]:
    """What everyone is told when this ball's record met a goal or ended a game."""
    ball = next((ball for ball in recording.balls if ball.feed_id == feed_id), None)
    exercise = None if ball is None else exercise_of(plan, ball.go.exercise)
    if ball is None or exercise is None:
        return []
    names = [player.name for player in state.roster.players]
    now = standing(exercise, shots_of(recording, ball.go), names)
    target = "" if exercise.target is None else exercise.target.name
    told: list[Told] = [
        ((tried.player,), _goal_met(tried.player, goal_words(goal, target)))
        for goal, players in zip(exercise.goals, now.goals, strict=True)
        for tried in players
        if tried.met_by == feed_id
    ]
    for side in now.sides:
        if side.over_by == feed_id:
            told.append((side.players, _game_over(side)))
    return told


def _goal_met(player: str | None, goal: str) -> str:
    return _("{player}: goal met, {goal}.", player=player or _("Everyone"), goal=goal)


def _game_over(side: Side) -> str:
    if not side.won:
        return _("Game to the launcher, {n} to {against}.", n=side.points, against=side.against)
    players = listed(player or _("everyone") for player in side.players)
    words = {"players": players, "n": side.points, "against": side.against}
    return _("Game to {players}, {n} to {against}.", **words)
