"""Feedscript from Python: for notebooks, and for tests of one's own.

    from feedscript import api

    verdict = api.check("two-corners.feed")
    rehearsal = api.rehearse(verdict, seed=3)
    assert api.compare(api.planned(verdict), api.rehearsed(verdict)).same
    table = api.feeds(verdict.plan)          # columns as arrays; pandas.DataFrame(table)

What is named here keeps its meaning within a version; the modules below it may change.
"""

from __future__ import annotations

from feedscript.api.columns import balls, feeds
from feedscript.api.programs import (
    RefusedError,
    check,
    expectations,
    lesson,
    planned,
    rehearse,
    rehearsed,
)
from feedscript.bench.differences import Comparison, Difference
from feedscript.bench.differences import compare as _compare
from feedscript.bench.record import Ball, Record
from feedscript.bench.tolerances import USUAL, Tolerances
from feedscript.check.check_program import Verdict
from feedscript.check.expected import Met
from feedscript.plan.model import Plan
from feedscript.session.rehearsal.rehearse import Rehearsal

__all__ = [
    "Ball",
    "Comparison",
    "Difference",
    "Met",
    "Plan",
    "Record",
    "RefusedError",
    "Rehearsal",
    "Tolerances",
    "Verdict",
    "balls",
    "check",
    "compare",
    "expectations",
    "feeds",
    "lesson",
    "planned",
    "rehearse",
    "rehearsed",
]


def compare(left: Record, right: Record, allowed: Tolerances = USUAL) -> Comparison:
    """Where two records of a lesson part, beyond what is allowed."""
    return _compare(left, right, allowed)
