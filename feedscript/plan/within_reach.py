"""Whether the balls of an exercise can ever meet its goals and end its game."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from feedscript.diagnostics import Diagnostic, Page
from feedscript.language import program as said
from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.goals import sides_of
from feedscript.plan.model import Exercise, Plan, Score
from feedscript.told_units import ball_words

_DEPTH = """feedscript 1
group {{ players "Ana", "Ben" }}
feed deep {{ land 2 m inside baseline, on centre line  speed 66 km/h }}
target "deep" {{ area backcourt }}
lesson {{
    show speed of deep
    exercise "Depth" {{
        goal {goal} in "deep"
        for each player {{ repeat 8 {{ send deep after 5 s }}  rest 12 s }}
    }}
}}
"""

GOAL_OUT_OF_REACH = Page(
    slug="goal-out-of-reach",
    title="A goal that no run of its exercise can meet",
    why="""A goal counts a player's own balls of one go at the exercise. When it is of more balls
than a player can get there, nobody can meet it; nor can anybody win a game to more points than all
balls give.""",
    wrong=_DEPTH.format(goal="7 of 10"),
    corrected=_DEPTH.format(goal="5 of 8"),
)

#: The most balls that each can get in one go at the exercise, by name; "" where the whole group
#: is fed together.
_Balls = dict[str, int]


def out_of_reach(plan: Plan, program: said.Program) -> tuple[Diagnostic, ...]:
    """Every goal and score that cannot be met, at its place."""
    stated = [step for step in program.lesson if isinstance(step, said.ExerciseStatement)]
    exercises = [step for step in plan.steps if isinstance(step, Exercise)]
    found: list[Diagnostic] = []
    for exercise, written in zip(exercises, stated, strict=True):
        if exercise.goals or exercise.score:
            each = balls_of_each(plan, exercise)
            found.extend(_goals(written, each))
            found.extend(_score(plan, exercise.score, written, each))
    return tuple(found)


def balls_of_each(plan: Plan, exercise: Exercise) -> dict[str, int]:
    """The most balls of each who gets any; of the group as one where nobody has a turn."""
    alone = replace(plan, steps=(exercise,))
    most = {one.name: balls_of_player(alone, n)[1] for n, one in enumerate(plan.group.players)}
    each = {who: balls for who, balls in most.items() if balls}
    return each or {"": bounds(alone).balls[1]}


def _goals(written: said.ExerciseStatement, each: _Balls) -> Iterator[Diagnostic]:
    who = min(each, key=lambda one: each[one])
    balls = each[who]
    for goal in written.goals:
        need = goal.of or goal.at_least
        if balls < need:
            there = f"{who} can get at most {balls}" if who else f"there are at most {balls}"
            yield GOAL_OUT_OF_REACH.report(
                f"this goal is of {ball_words(need)}, and {there} in “{written.title}”",
                help=_mend(goal, balls),
                span=goal.span,
            )


def _mend(goal: said.GoalDecl, balls: int) -> str:
    if not balls:
        return "send balls in the exercise, or take the goal out"
    where = "in target" if goal.in_target else "in"
    if goal.share is not None:
        smaller = f"{goal.share * 100:g} % {where} of last {balls}"
    elif goal.in_a_row:
        smaller = f"{balls} in a row{' in target' if goal.in_target else ''}"
    elif goal.of is None:
        smaller = f"{balls} {where}"
    else:
        smaller = f"{max(1, goal.at_least * balls // goal.of)} of {balls} {where}"
    return f"write `goal {smaller}`, or send each player {ball_words(goal.of or goal.at_least)}"


def _score(
    plan: Plan, score: Score | None, written: said.ExerciseStatement, each: _Balls
) -> Iterator[Diagnostic]:
    if score is None or score.to is None or written.score is None:
        return
    sides = sides_of([one.name for one in plan.group.players], pairs=score.pairs)
    most = max(sum(each.get(who, each.get("", 0)) for who in side) for side in sides)
    best = most * max(*score.points.values(), *score.against.values())
    if best < score.to:
        yield GOAL_OUT_OF_REACH.report(
            f"the game is to {score.to}, and {ball_words(most)} give {best} at most",
            help=f"write `score to {best}`, or send more balls" if best else "send balls in it",
            span=written.score.span,
        )
