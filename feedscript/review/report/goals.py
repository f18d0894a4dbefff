"""Goals and games of a lesson: who met which, turn by turn, and how each game ended."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

import msgspec

from feedscript.plan.model import Exercise, Goal, Result
from feedscript.session.group.goals import Shot, Standing, goal_words, standing
from feedscript.tongues.text import _, joined
from feedscript.visible import on_one_line


class Aimed(msgspec.Struct, frozen=True, kw_only=True):
    """A ball as it counts here: of which go at which exercise, and in which series."""

    number: int
    player: str | None
    result: Result | None
    series: int
    go: tuple[int, int] = (0, 0)


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """One player and one goal, in one go at an exercise.

    ``turns``: of each turn the shots that count, and those recorded; ``met_by``: the ball's number.
    """

    exercise: str
    play: int
    player: str | None
    goal: str
    best: int
    met_by: int | None
    turns: tuple[tuple[int, int], ...]
    longest_row: int


class Game(msgspec.Struct, frozen=True, kw_only=True):
    """One side of a game: their points, and the launcher's against them."""

    exercise: str
    play: int
    players: tuple[str | None, ...]
    points: int
    against: int
    to: int | None
    won: bool
    lost: bool
    over_by: int | None


class Aims(msgspec.Struct, frozen=True):
    """All of a lesson."""

    tried: tuple[Tried, ...] = ()
    games: tuple[Game, ...] = ()

    def of(self, player: str) -> Aims:
        """What is this player's alone."""
        return Aims(
            tuple(one for one in self.tried if one.player == player),
            tuple(one for one in self.games if one.players == (player,)),
        )

    def brought_about(self) -> dict[int, str]:
        """What a ball brought about, by its number: a goal met, a game won or lost."""
        told: dict[int, list[str]] = {}
        for one in self.tried:
            if one.met_by is not None:
                told.setdefault(one.met_by, []).append(_("goal met: {goal}", goal=one.goal))
        for game in self.games:
            if game.over_by is not None:
                score = {"n": game.points, "m": game.against}
                words = _("game won, {n} to {m}", **score)
                if not game.won:
                    words = _("game lost, {n} to {m}", **score)
                told.setdefault(game.over_by, []).append(words)
        return {number: joined("; ", words) for number, words in told.items()}


def aims_of(steps: Iterable[Any], balls: Sequence[Aimed], names: Sequence[str]) -> Aims:
    """From the steps of a plan (as plain data) and the balls of its lesson, in their order."""
    exercises = dict(enumerate(_exercises(steps), 1))
    tried: list[Tried] = []
    games: list[Game] = []
    for go in sorted({ball.go for ball in balls}):
        exercise = exercises.get(go[0])
        if exercise is not None:
            here = sorted((b for b in balls if b.go == go), key=lambda ball: ball.number)
            shots = [Shot(ball.number, ball.player, ball.result) for ball in here]
            now = standing(exercise, shots, names)
            tried.extend(_tried(exercise, go[1], here, now))
            games.extend(_games(exercise, go[1], now))
    return Aims(tuple(tried), tuple(games))


def _exercises(steps: Iterable[Any]) -> Iterator[Exercise | None]:
    """None for one that a plan of another version has otherwise."""
    for step in steps:
        if isinstance(step, dict) and step.get("step") == "exercise":
            head: Mapping[str, Any] = {**step, "body": []}
            try:
                yield msgspec.convert(head, Exercise)
            except msgspec.ValidationError:
                yield None


def _tried(exercise: Exercise, play: int, balls: Sequence[Aimed], now: Standing) -> Iterator[Tried]:
    target = "" if exercise.target is None else exercise.target.name
    rows = {row.player: row.best for row in now.rows}
    for goal, players in zip(exercise.goals, now.goals, strict=True):
        for one in players:
            yield Tried(
                exercise=on_one_line(exercise.title),
                play=play,
                player=one.player,
                goal=goal_words(goal, on_one_line(target)),
                best=one.best,
                met_by=one.met_by,
                turns=_turns(goal, one.player, balls),
                longest_row=rows.get(one.player, 0),
            )


def _turns(goal: Goal, player: str | None, balls: Sequence[Aimed]) -> tuple[tuple[int, int], ...]:
    theirs = [ball for ball in balls if ball.player == player]
    found = []
    for _series, turn in groupby(theirs, key=lambda ball: ball.series):
        results = [ball.result for ball in turn if ball.result is not None]
        found.append((sum(one in goal.condition.results for one in results), len(results)))
    return tuple(found)


def _games(exercise: Exercise, play: int, now: Standing) -> Iterator[Game]:
    for side in now.sides:
        yield Game(
            exercise=on_one_line(exercise.title),
            play=play,
            players=side.players,
            points=side.points,
            against=side.against,
            to=None if exercise.score is None else exercise.score.to,
            won=side.won,
            lost=side.lost,
            over_by=side.over_by,
        )
