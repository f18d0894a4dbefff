"""Expectations that only drawn balls can decide, decided: as ``feedscript test`` does it."""

from __future__ import annotations

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.check.expected import Met, drawing_of
from feedscript.desk.seen import SeenExpectation, expectation_seen
from feedscript.plan.expect.evaluation import evaluate, written

#: As many as ``feedscript test`` draws where nothing else is said.
DRAWS = 2000


class Tested(msgspec.Struct, frozen=True, kw_only=True):
    """Every expectation of these words, with what drawn balls and runs say of it."""

    version: str
    expectations: tuple[SeenExpectation, ...]


def tested(verdict: Verdict, version: str) -> Tested:
    """Of a program that passed."""
    program, facts = verdict.program, verdict.facts
    assert program is not None
    assert facts is not None
    drawing = drawing_of(facts, DRAWS)
    met = (
        Met(written(program, one.span), one.span.line, evaluate(one, program, drawing))
        for one in program.expectations
    )
    return Tested(version=version, expectations=tuple(map(expectation_seen, met)))
