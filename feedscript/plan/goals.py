"""Targets, goals and scores of an exercise: into the plan, and which of them can ever be met."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from feedscript.language import program as said
from feedscript.plan.model import GOOD, Goal, Result, Score, Target

_RESULTS = {
    said.Recorded.TARGET: Result.TARGET,
    said.Recorded.IN: Result.IN,
    said.Recorded.NET: Result.NET,
    said.Recorded.LONG: Result.LONG,
    said.Recorded.LEFT: Result.LEFT,
    said.Recorded.RIGHT: Result.RIGHT,
}


def results_of(word: said.Recorded) -> tuple[Result, ...]:
    """What a question to the record counts: what is in the target is in, too."""
    return GOOD if word is said.Recorded.IN else (_RESULTS[word],)


def target_of(declared: said.TargetDecl | None) -> Target | None:
    """The target as it lies, and as it lies for left-handers where its sides are the player's."""
    if declared is None:
        return None
    left: tuple[tuple[tuple[float, float], ...], ...] = ()
    if declared.relative:
        left = tuple(tuple((-x_m, y_m) for x_m, y_m in one) for one in declared.outlines_m)
    return Target(
        name=declared.name,
        outlines_m=declared.outlines_m,
        left_outlines_m=left,
        marked=declared.marked,
    )


def goal_of(declared: said.GoalDecl) -> Goal:
    """The goal as the plan has it."""
    return Goal(
        at_least=declared.at_least,
        of=declared.of,
        in_target=declared.in_target,
        in_a_row=declared.in_a_row,
        share=declared.share,
    )


def score_of(declared: said.ScoreDecl | None) -> Score | None:
    """The score as the plan has it."""
    if declared is None:
        return None
    return Score(
        points=_by_result(declared.points),
        against=_by_result(declared.against),
        to=declared.to,
        pairs=declared.pairs,
    )


def _by_result(points: Mapping[said.Recorded, int]) -> dict[Result, int]:
    return {result: points[word] for word, result in _RESULTS.items() if word in points}


def sides_of(names: Sequence[str], *, pairs: bool) -> list[tuple[str, ...]]:
    """Those who have one score together: each alone, or two who follow each other in the group.

    Where one is left over, that one plays alone until somebody comes late.
    """
    size = 2 if pairs else 1
    return [tuple(names[at : at + size]) for at in range(0, len(names), size)]
