"""How players stand in an exercise: goals, rows and the score, worked out anew from the records.

As with the counts nothing is kept beside the records: what was taken back is no longer counted, and
a lesson that is taken up again stands where it stood.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from feedscript.plan.goals import sides_of
from feedscript.plan.interpreter.conditions import holds
from feedscript.plan.model import GOOD, Condition, Exercise, Goal, Result, Score
from feedscript.tongues.text import _, listed


class Shot(msgspec.Struct, frozen=True):
    """A ball that left for a player (None: for nobody in particular), and what became of it."""

    feed_id: int
    player: str | None
    result: Result | None


class GoalOf(msgspec.Struct, frozen=True, kw_only=True):
    """One player and one goal: ``made`` of the last balls that it looks at, ``best`` so far;
    ``met_by`` is the ball with which it was met."""

    player: str | None
    made: int
    best: int
    met_by: int | None = None

    @property
    def met(self) -> bool:
        """Whether it was met, whatever came after."""
        return self.met_by is not None


class RowOf(msgspec.Struct, frozen=True, kw_only=True):
    """How many of a player's last balls in a row were good, and the longest such row."""

    player: str | None
    running: int
    best: int


class Side(msgspec.Struct, frozen=True, kw_only=True):
    """Those who have one score together, and the launcher against them. A game that is ``won`` or
    ``lost`` is over, by the ball ``over_by``."""

    players: tuple[str | None, ...]
    points: int
    against: int
    won: bool = False
    lost: bool = False
    over_by: int | None = None


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """How everyone stands: for each goal, in rows, and in the score."""

    goals: tuple[tuple[GoalOf, ...], ...] = ()
    rows: tuple[RowOf, ...] = ()
    sides: tuple[Side, ...] = ()


def standing(exercise: Exercise, shots: Sequence[Shot], names: Sequence[str]) -> Standing:
    """After these shots of one go at the exercise, in the order in which they left.

    ``names`` are the players of the group in their order: pairs are made of it.
    """
    players = tuple(dict.fromkeys(shot.player for shot in shots))
    return Standing(
        goals=tuple(
            tuple(goal_of(goal, player, shots) for player in players) for goal in exercise.goals
        ),
        rows=tuple(row_of(exercise, player, shots) for player in players),
        sides=() if exercise.score is None else _sides(exercise.score, shots, names, players),
    )


def _recorded(player: str | None, shots: Iterable[Shot]) -> list[tuple[int, Result]]:
    return [(s.feed_id, s.result) for s in shots if s.player == player and s.result is not None]


def goal_of(goal: Goal, player: str | None, shots: Iterable[Shot]) -> GoalOf:
    """How a player stands with a goal."""
    condition, theirs = goal.condition, _recorded(player, shots)
    results = [result for _, result in theirs]
    made = [_made(condition, results[:end]) for end in range(len(results) + 1)]
    met = (feed_id for end, (feed_id, _) in enumerate(theirs, 1) if holds(condition, results[:end]))
    return GoalOf(player=player, made=made[-1], best=max(made), met_by=next(met, None))


def _made(condition: Condition, results: Sequence[Result]) -> int:
    """How many of those that count; in a row those since the last that does not."""
    seen = results if condition.window is None else results[-condition.window :]
    if condition.window != condition.at_least:
        return sum(result in condition.results for result in seen)
    return _running(results, condition.results)


def _running(results: Sequence[Result], good: tuple[Result, ...]) -> int:
    missed = (n for n, result in enumerate(reversed(results)) if result not in good)
    return next(missed, len(results))


def row_of(exercise: Exercise, player: str | None, shots: Iterable[Shot]) -> RowOf:
    """A player's rows: of shots in the target where there is one, else in court."""
    good = GOOD if exercise.target is None else (Result.TARGET,)
    results = [result for _, result in _recorded(player, shots)]
    rows = [_running(results[:end], good) for end in range(len(results) + 1)]
    return RowOf(player=player, running=rows[-1], best=max(rows))


def _sides(
    score: Score, shots: Sequence[Shot], names: Sequence[str], players: tuple[str | None, ...]
) -> tuple[Side, ...]:
    """Those of the group who had a ball; nobody in particular is a side too."""
    groups: list[tuple[str | None, ...]] = [*sides_of(names, pairs=score.pairs)]
    groups += [(player,) for player in players if player not in names]
    there = [group for group in groups if any(player in players for player in group)]
    return tuple(_side(score, group, shots) for group in there)


def _side(score: Score, players: tuple[str | None, ...], shots: Iterable[Shot]) -> Side:
    side = Side(players=players, points=0, against=0)
    for shot in shots:
        if shot.player not in players or shot.result is None or side.over_by is not None:
            continue
        points = side.points + score.points.get(shot.result, 0)
        against = side.against + score.against.get(shot.result, 0)
        won = score.to is not None and points >= score.to
        lost = not won and score.to is not None and against >= score.to
        over_by = shot.feed_id if won or lost else None
        side = Side(
            players=players, points=points, against=against, won=won, lost=lost, over_by=over_by
        )
    return side


def goal_words(goal: Goal, target: str) -> str:
    """The goal as everyone reads it."""
    of, n = goal.of, goal.at_least
    if goal.share is not None:
        share = f"{goal.share * 100:g}"
        if goal.in_target:
            return _("{share} % of the last {of} in {target}", share=share, of=of, target=target)
        return _("{share} % of the last {of} in court", share=share, of=of)
    if goal.in_a_row:
        if goal.in_target:
            return _("{n} in a row in {target}", n=n, target=target)
        return _("{n} in a row in court", n=n)
    if of is not None:
        if goal.in_target:
            return _("{n} of {of} in {target}", n=n, of=of, target=target)
        return _("{n} of {of} in court", n=n, of=of)
    return _("{n} in {target}", n=n, target=target) if goal.in_target else _("{n} in court", n=n)


def tried_words(one: GoalOf) -> str:
    """How a player stands with a goal."""
    player = one.player or _("Everyone")
    if one.met:
        return _("✓ {player}: goal met", player=player)
    return _("{player}: {n}", player=player, n=one.made)


def row_words(row: RowOf) -> str:
    """The row that a player is in."""
    return _("{player}: {n} in a row", player=row.player or _("Everyone"), n=row.running)


def side_words(side: Side, *, launcher: bool) -> str:
    """How a side stands; ``launcher``: which plays too."""
    players = listed(player or _("Everyone") for player in side.players)
    parts = {"players": players, "n": side.points, "against": side.against}
    if side.won:
        return _("✓ {players} won, {n} : {against}", **parts)
    if side.lost:
        return _("{players} {n} : {against}, the launcher won", **parts)
    if launcher:
        return _("{players} {n} : {against} launcher", **parts)
    return _("{players}: {n}", players=players, n=side.points)
