"""The balls loaded last until the next collect."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from feedscript.diagnostics import Page
from feedscript.override import override
from feedscript.plan.bodies import bodies
from feedscript.plan.folds.fold import Fold
from feedscript.plan.model import Plan, Send, ShowSpeed, Step, Together
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.heaviest_segment import (
    EMPTY,
    Segment,
    Segments,
    heaviest_line,
    weighing,
)
from feedscript.told_units import ball_words

PAGE = Page(
    slug="short-of-balls",
    title="More balls than are loaded",
    why=(
        "A launcher that runs empty in the middle of a series brings somebody to the hopper while "
        "the plan goes on. On no run of the plan are more balls sent between two collects than "
        "were loaded; where the program does not say how many, a full hopper is assumed and the "
        "set-up list says how many balls it takes. Common practice, no source. Never waived."
    ),
    wrong=example(
        balls="type 2  load 10", steps="show speed of deep  repeat 12 { send deep after 6 s }"
    ),
    corrected=example(
        balls="type 2  load 10",
        steps="show speed of deep  repeat 2 { repeat 6 { send deep after 6 s }  collect }",
    ),
)


class _Balls(Segments):
    """Balls of one launcher; a collect cuts."""

    def __init__(self, plan: Plan, launcher: int) -> None:
        self._own = [feed.launcher == launcher for feed in plan.feeds]

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Segment:
        return weighing(1) if any(self._own[feed] for feed in feeds) else EMPTY

    @override
    def show_speed(self, step: ShowSpeed) -> Segment:
        return weighing(1) if self._own[step.feed] else EMPTY


def needed(plan: Plan, launcher: int) -> int:
    """The most balls this launcher may send between two collects, on any run."""
    return int(Fold(plan, _Balls(plan, launcher)).whole().most)


def _exercise(plan: Plan, launcher: int) -> int | None:
    """The line of the step that sends the most of these balls."""
    return heaviest_line(plan, _Balls(plan, launcher)) if plan.steps else None


def between_collects(plan: Plan) -> tuple[tuple[int, int | None], ...]:
    """What each launcher needs, and the line of the exercise that needs most."""
    launchers = range(len(plan.launchers))
    return tuple((needed(plan, number), _exercise(plan, number)) for number in launchers)


def _rounds(steps: Sequence[Step]) -> bool:
    """Whether rounds of stations follow one another somewhere with no collect between."""
    if any(isinstance(a, Together) and isinstance(b, Together) for a, b in pairwise(steps)):
        return True
    return any(_rounds(body) for step in steps for body in bodies(step))


def _find(facts: PlanFacts) -> Finding:
    measurements = []
    between = ""
    if _rounds(facts.plan.steps):
        between = (
            "; between the rounds of stations it is "
            "`rotate stations every …, collect between { … }`"
        )
    each = facts.of_steps("balls between collects", between_collects)
    for number, launcher in enumerate(facts.plan.launchers):
        balls, exercise = each[number]
        holds = facts.profiles[number].limits.hopper_balls
        loaded = holds if launcher.load is None else launcher.load
        where = f" on launcher {launcher.name}" if launcher.name else ""
        measurements.append(
            Measurement(
                value=balls,
                limit=loaded,
                margin=loaded - balls,
                unit="balls",
                words=f"up to {ball_words(balls)} between two collects{where}, {loaded} loaded",
                message=f"up to {balls} balls leave without a collect{where}; {loaded} are loaded",
                help=f"load {ball_words(balls)}, or add a collect{between}"
                if balls <= holds
                else f"add a collect: the hopper holds {holds}{between}",
                # Where the load is enough for the hopper, the exercise is what is too long.
                line=launcher.line if balls <= holds else exercise,
                part="load" if balls <= holds else "block",
            )
        )
    return finding(measurements, "the plan has no launcher")


RULE = Rule(
    page=PAGE,
    assumption="as many balls are loaded at the start and after each collect as the program says",
    source="common practice, no source",
    find=_find,
)
