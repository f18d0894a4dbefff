"""What this machine's cores come to together is what one process comes to, whoever ends."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from multiprocessing import resource_tracker
from multiprocessing.context import BaseContext

import pytest

from feedscript.check import sample as sample_module
from feedscript.check.check_program import check_program
from feedscript.check.in_pieces import cores as cores_module
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.cores import OnCores, shared
from feedscript.check.in_pieces.pieces import RunsPiece
from feedscript.check.in_pieces.work import Alone
from feedscript.check.sample import sample
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.shipped import shipped_programs

ONES = [RunsPiece(seed, 1) for seed in range(40)]


@pytest.fixture
def spawn() -> Iterator[BaseContext]:
    """For processes that begin anew, and so know nothing of what a test replaces."""
    yield multiprocessing.get_context("spawn")
    resource_tracker._resource_tracker._stop()  # a process that would stay as long as this one


@pytest.fixture(scope="module")
def facts() -> PlanFacts:
    found = check_program(shipped_programs()["friday-seven"]).facts
    assert found is not None
    return found


def helpers_of(found: OnCores) -> list[int]:
    assert found._pool is not None
    return list(found._pool._processes)


@pytest.mark.parametrize("helpers", [0, 1, 3])
def test_a_sample_is_the_same_by_any_number(facts, helpers, monkeypatch) -> None:
    monkeypatch.setattr(sample_module, "RUN_BALLS", 500)
    with shared(helpers, worth_s=0.0) as workers:
        assert sample(facts, 60, 3, workers) == sample(facts, 60, 3)


def test_the_helpers_take_part_and_are_gone_afterwards(facts, spawn, monkeypatch) -> None:
    done_here: list[RunsPiece] = []

    def noted(case, piece):
        done_here.append(piece)
        return next(Alone().answers([(case, piece)]))

    monkeypatch.setattr(cores_module, "work", noted)
    case = Case(facts)
    with shared(1, worth_s=0.0, began_as=spawn) as workers:
        answers = list(workers.answers((case, piece) for piece in ONES))
        pids = helpers_of(workers)
    assert answers == list(Alone().answers((case, piece) for piece in ONES))
    assert done_here == ONES[: len(done_here)]
    assert len(done_here) < len(ONES)
    assert not any(map(_is_there, pids))


def test_little_work_begins_no_helper(facts) -> None:
    with shared(1) as workers:
        assert len(list(workers.answers((Case(facts), piece) for piece in ONES[:3]))) == 3
        assert workers._pool is None


def test_what_a_helper_had_that_was_ended_is_done_here(facts, spawn) -> None:
    case = Case(facts)
    with shared(1, worth_s=0.0, began_as=spawn) as workers:
        answers = workers.answers((case, piece) for piece in ONES)
        found = [next(answers)]
        for pid in helpers_of(workers):
            os.kill(pid, signal.SIGKILL)
        found += answers
        assert found == list(Alone().answers((case, piece) for piece in ONES))
        assert list(workers.answers([(case, ONES[0]), (case, ONES[1])])) == found[:2]


def test_who_stops_reading_takes_the_rest_back(facts) -> None:
    case = Case(facts)
    with shared(1, worth_s=0.0) as workers:
        answers = workers.answers((case, piece) for piece in ONES * 1000)
        next(answers)
        answers.close()
        (later,) = workers.answers([(case, ONES[0])])
    assert later == next(Alone().answers([(case, ONES[0])]))


BEGINS_ONE_AND_WAITS = """
import time
from feedscript.check.check_program import check_program
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.cores import shared
from feedscript.check.in_pieces.pieces import RunsPiece
from feedscript.shipped import shipped_programs

facts = check_program(shipped_programs()["friday-seven"]).facts
with shared(1, worth_s=0.0) as workers:
    list(workers.answers([(Case(facts), RunsPiece(seed, 1)) for seed in range(4)]))
    print(*workers._pool._processes, flush=True)
    time.sleep(60)
"""


def test_a_helper_ends_with_its_parent_however_that_ends() -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", BEGINS_ONE_AND_WAITS], stdout=subprocess.PIPE, text=True
    )
    assert parent.stdout is not None
    (pid,) = map(int, parent.stdout.readline().split())
    assert _is_there(pid)
    parent.kill()
    parent.wait()
    patience_s = time.monotonic() + 20.0
    while _is_there(pid):
        assert time.monotonic() < patience_s
        time.sleep(0.05)


def _is_there(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True
