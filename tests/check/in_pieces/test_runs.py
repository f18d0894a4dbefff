"""Runs drawn together are those drawn one by one, whether chance has a say in them or not."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedscript.check.check_program import check_program
from feedscript.check.in_pieces import runs
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.pieces import RunsPiece
from feedscript.check.in_pieces.runs import drawn_runs

HEAD = """feedscript 1
title "Runs"
court { surface hard }
balls { type 2  load 60 }
launcher { stands 1 m behind centre mark }
group { 2 players }
feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }
feed short { land 1 m inside service line, on centre line  speed 60 km/h }
lesson { show speed of deep  show speed of short
"""
SURE = HEAD + "repeat 3 { send deep after 6 s  send short after 6 s } }\n"
CHANCE = HEAD + "repeat 6 { choose { 1: { send deep after 6 s } 3: { send short after 6 s } } } }\n"


def case_of(text: str) -> Case:
    found = check_program(Path("runs.feed"), text=text)
    assert found.plan is not None, [one.message for one in found.diagnostics]
    assert found.facts is not None
    return Case(found.facts)


def one_by_one(case: Case, count: int) -> tuple[dict[int, int], list[tuple[int, str]]]:
    sent: dict[int, int] = {}
    surprises = []
    for number in range(count):
        answer = drawn_runs(case, RunsPiece(number, 1))
        for feed, times in answer.sent:
            sent[feed] = sent.get(feed, 0) + times
        surprises += [(one.seed, one.what) for one in answer.surprises]
    return sent, surprises


@pytest.mark.parametrize("text", [SURE, CHANCE], ids=["sure", "chance"])
@pytest.mark.parametrize("promised_s", [None, 1.0], ids=["certified", "too little certified"])
def test_together_they_are_what_each_is(text: str, promised_s: float | None) -> None:
    case = case_of(text)
    if promised_s is not None:
        plan = case.facts.plan
        bounds = msgspec.structs.replace(plan.bounds, time_s=(0.0, promised_s))
        plan = msgspec.structs.replace(plan, bounds=bounds)
        case = Case(msgspec.structs.replace(case.facts, plan=plan))
    together = drawn_runs(case, RunsPiece(0, 20))
    sent, surprises = one_by_one(case, 20)
    assert dict(together.sent) == sent
    assert [(one.seed, one.what) for one in together.surprises] == surprises
    assert bool(surprises) is (promised_s is not None)


@pytest.mark.parametrize(("text", "played"), [(SURE, 1), (CHANCE, 20)], ids=["sure", "chance"])
def test_only_a_run_that_draws_nothing_stands_for_all(
    text: str, played: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, play = [], runs.run_through

    def noted(*args, **named):
        begun.append(args)
        return play(*args, **named)

    case = case_of(text)
    monkeypatch.setattr(runs, "run_through", noted)
    drawn_runs(case, RunsPiece(0, 20))
    assert len(begun) == played
