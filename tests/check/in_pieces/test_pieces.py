"""Whoever draws a piece, and in whatever order: the result is that of one process alone."""

from __future__ import annotations

import json
import random
from collections.abc import Iterable, Iterator

import msgspec
import numpy as np
import pytest

from feedscript.check import bootstrap as fitting
from feedscript.check import on_launchers
from feedscript.check import sample as sampling
from feedscript.check.bootstrap import bootstrap
from feedscript.check.check_program import check_program
from feedscript.check.expected import drawing_of
from feedscript.check.in_pieces import at_worker, balls
from feedscript.check.in_pieces.at_worker import Asked, Refused, done, said_in
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.cases import AnyCase, case_of
from feedscript.check.in_pieces.pieces import (
    Answer,
    BallsPiece,
    LandingsPiece,
    Piece,
    RefitsPiece,
    RunsPiece,
)
from feedscript.check.in_pieces.refits import Measured
from feedscript.check.in_pieces.same_code import differing, own_code
from feedscript.check.in_pieces.work import landed, work
from feedscript.check.sample import sample
from feedscript.plan.expect.draws import landings
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.shipped import shipped_programs
from tests.check.in_pieces.measured import few_balls
from tests.launcher.tuning.synthetic import profile_named


@pytest.fixture(scope="module")
def facts() -> PlanFacts:
    """Of a lesson at several stations, whose balls are held against one another."""
    found = check_program(shipped_programs()["friday-seven"]).facts
    assert found is not None
    assert found.at_once
    return found


class Shuffled:
    """Workers that are far away: they get data alone, and begin with any piece."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.pieces: list[Piece] = []

    def answers(self, asked: Iterable[tuple[AnyCase, Piece]]) -> Iterator[Answer]:
        wishes = list(enumerate(asked))
        self.random.shuffle(wishes)
        found = {}
        for number, (case, piece) in wishes:
            self.pieces.append(piece)
            wish = msgspec.msgpack.encode(Asked(own_code(), piece))
            found[number] = said_in(done(bytes(case.data), wish))
        yield from (found[number] for number in sorted(found))


def test_far_workers_in_any_order_draw_what_one_process_draws(facts, monkeypatch):
    monkeypatch.setattr(sampling, "RUN_BALLS", 900)
    monkeypatch.setattr(balls, "CHUNK", 500)
    alone, workers = sample(facts, 12, 5), Shuffled(1)
    assert sample(facts, 12, 5, workers) == alone
    kinds = [type(piece) for piece in workers.pieces]
    assert kinds.count(RunsPiece) > 3
    assert kinds.count(BallsPiece) > 3
    meetings = [one for one in alone.excesses if one.what.startswith("came too near a ball")]
    assert meetings[0].balls > 500


def test_a_chunk_has_a_seed_of_its_own_and_every_ball_flies_once(facts, monkeypatch):
    monkeypatch.setattr(balls, "CHUNK", 4)
    parts = [balls._flown(facts, 5, 1, 10, chunk).flights.landing_x_m for chunk in range(3)]
    assert [len(part) for part in parts] == [4, 4, 2]
    assert len(set(np.concatenate(parts))) == 10
    again = balls._flown(facts, 5, 1, 10, 1).flights.landing_x_m
    assert np.array_equal(again, parts[1])


def test_every_ball_is_drawn_once_however_the_runs_are_cut(facts, monkeypatch):
    whole = sample(facts, 12, 5)
    monkeypatch.setattr(sampling, "RUN_BALLS", 1)
    assert sample(facts, 12, 5) == whole
    landed_ones = next(one for one in whole.excesses if one.what == balls.OUT_OF_ELLIPSE)
    assert landed_ones.balls == whole.balls


def test_a_case_read_back_is_the_same_plan_on_the_same_launchers():
    for path in list(shipped_programs().values())[::9]:
        verdict = check_program(path)
        assert verdict.facts is not None, path
        again = case_of(Case(verdict.facts).data)
        assert isinstance(again, Case)
        assert again.facts.plan == verdict.facts.plan
        assert again.facts.profiles == verdict.facts.profiles
        assert again.data == Case(verdict.facts).data


def test_measured_balls_read_back_are_the_same():
    case, _ = few_balls()
    again = case_of(case.data)
    assert isinstance(again, Measured)
    assert again.data == case.data
    assert np.array_equal(again.shots.seen, case.shots.seen, equal_nan=True)
    assert (again.base, again.tuned, again.values) == (case.base, case.tuned, case.values)


def test_far_workers_in_any_order_fit_what_one_process_fits(monkeypatch):
    monkeypatch.setattr(fitting, "REFITS", 2)
    case, found = few_balls()
    workers = Shuffled(2)
    assert bootstrap(case, found, 5, 4, workers) == bootstrap(case, found, 5, 4)
    assert len(workers.pieces) == 3


def test_far_workers_in_any_order_judge_what_one_process_judges(tmp_path):
    ship = shipped_programs()
    programs = {name: ship[name] for name in ("tuesday-two", "library/cut_it_off")}
    programs["nobody"] = tmp_path / "nobody.feed"
    profiles = {name: profile_named(name) for name in ("garage", "turning-head")}
    rows = on_launchers.verdicts(programs, profiles, workers=Shuffled(3))
    assert rows == on_launchers.verdicts(programs, profiles)


def test_a_case_has_no_pieces_of_another_kind(facts):
    with pytest.raises(TypeError, match="a Case has no RefitsPiece"):
        work(Case(facts), RefitsPiece(1, 0, 1))


def test_landings_in_pieces_are_those_of_the_whole(facts):
    whole = landings(drawing_of(facts, 700, 9), 2)
    case = Case(facts)
    parts = [
        landed(work(case, LandingsPiece(9, 2, start, min(200, 700 - start))))
        for start in range(0, 700, 200)
    ]
    for axis in (0, 1):
        assert np.array_equal(np.concatenate([part[axis] for part in parts]), whole[axis])


def test_a_worker_that_is_not_the_same_refuses_every_piece(facts):
    other = own_code() | {"numpy": "0.1"}
    wish = msgspec.msgpack.encode(Asked(other, RunsPiece(1, 1)))
    said = said_in(at_worker.done(Case(facts).data, wish))
    assert isinstance(said, Refused)
    assert "numpy" in said.differs
    assert "0.1" in said.differs


def test_what_is_no_case_is_not_believed():
    measured = json.loads(few_balls()[0].data)
    spoilt = [json.dumps(measured | one).encode() for one in ({"seen": ""}, {"model": "ours"})]
    plan = b'{"type": "plan", "plan": 1, "profiles": []}'
    for data in (b"{}", b"not JSON", plan, *spoilt):
        with pytest.raises(msgspec.DecodeError):
            case_of(data)


def test_what_differs_is_told_by_name():
    own = own_code()
    assert differing(own, dict(own)) == ""
    for what in own:
        assert differing(own, own | {what: "other"}).startswith(f"{what} other, here {own[what]}")
        assert what in differing(own, {name: own[name] for name in own if name != what})
