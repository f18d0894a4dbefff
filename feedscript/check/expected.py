"""A program's expectations as far as they can be judged without drawing a ball."""

from __future__ import annotations

import msgspec

from feedscript.check.scattered import Scattered
from feedscript.diagnostics import Diagnostic, Page, Severity
from feedscript.language.program import Program
from feedscript.plan.expect.draws import Drawing
from feedscript.plan.expect.evaluation import evaluate, written
from feedscript.plan.expect.outcome import ExpectationStanding, Outcome
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.examples import example

UNMET = Page(
    slug="unmet-expectation",
    title="An expectation that does not hold",
    severity=Severity.WARNING,
    why=(
        "A program says in `expect` what its author trusts. What can be judged without draws is "
        "judged at every check: an expectation that fails, or that speaks of a feed which the "
        "lesson never sends, means that the lesson is not what it says. The balls are as safe as "
        "before, so nothing is refused; but `feedscript check` does not say that it passed. The "
        "rest, percentages above all, is for `feedscript test`."
    ),
    wrong=example(more="expect { balls <= 1 }"),
    corrected=example(more="expect { balls <= 2 }"),
)


class Met(msgspec.Struct, frozen=True):
    """One expectation as written, and what became of it."""

    words: str
    line: int
    outcome: Outcome

    @property
    def broken(self) -> bool:
        """Whether it is known not to hold, or to be about nothing."""
        return self.outcome.standing in (ExpectationStanding.FAILS, ExpectationStanding.UNTESTED)


def drawing_of(facts: PlanFacts, draws: int, seed: int | None = None) -> Drawing:
    """What expectations are held against; with no draws only what needs none is told."""
    seed = facts.plan.seed if seed is None else seed
    return Drawing(facts.plan, facts.profiles, Scattered(facts), draws, seed)


def without_draws(program: Program, facts: PlanFacts) -> tuple[Met, ...]:
    """Every expectation, in the program's order; inconclusive where only draws can tell."""
    drawing = drawing_of(facts, draws=0)
    return tuple(
        Met(written(program, one.span), one.span.line, evaluate(one, program, drawing))
        for one in program.expectations
    )


def unmet(program: Program, met: tuple[Met, ...]) -> tuple[Diagnostic, ...]:
    """A warning for each expectation that does not hold."""
    return tuple(
        UNMET.report(
            f"`{one.words}` is not so: {one.outcome.figure}"
            if one.outcome.standing is ExpectationStanding.FAILS
            else f"`{one.words}` says nothing: {one.outcome.figure}",
            help="change the lesson, or what is expected of it",
            span=expectation.span,
        )
        for one, expectation in zip(met, program.expectations, strict=True)
        if one.broken
    )
