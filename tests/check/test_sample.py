"""The second opinion: drawn runs agree with honest certificates and expose dishonest ones."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import numpy as np
import pytest
from scipy import stats

from feedscript.check.check_program import check_program
from feedscript.check.sample import Excess, Sample, sample
from feedscript.plan.model import Choose, Option, Plan, Rest, ShowSpeed
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.certify import certify
from feedscript.shipped import shipped_programs
from tests.safety.corpus_files import Pair, pairs
from tests.safety.plan_cases import CASES, END, PlanCase, send
from tests.safety.scenes import PROFILE, Wish, scene


def lesson() -> Plan:
    ways = (Option(weight=2, body=(send(0),)), Option(weight=1, body=(send(1), send(1))))
    show = (ShowSpeed(feed=1, line=9), ShowSpeed(feed=0, line=10))
    plan = scene(
        Wish("left", (-2.5, 9.0)),
        Wish("right", (2.5, 9.5), speed_mps=23.0),
        steps=(*show, Choose(options=ways, line=11), Rest(seconds=2.0, line=12), send(0), END),
    )
    assert certify(plan, (PROFILE,)).plan is not None
    return plan


def test_honest_certificate_agrees_with_its_runs() -> None:
    drawn = sample(PlanFacts(lesson(), (PROFILE,)), 3000, 1)
    assert drawn.agrees
    assert drawn.surprises == ()
    assert drawn.balls > 12_000


def test_same_seed_draws_the_same_runs() -> None:
    facts = PlanFacts(lesson(), (PROFILE,))
    assert sample(facts, 50, 7) == sample(facts, 50, 7)
    assert sample(facts, 50, 7) != sample(facts, 50, 8)


def test_scatter_stated_too_small_is_noticed() -> None:
    plan = lesson()
    small = [
        msgspec.structs.replace(
            feed, scatter=msgspec.structs.replace(feed.scatter, major_m=feed.scatter.major_m * 0.8)
        )
        for feed in plan.feeds
    ]
    lying = msgspec.structs.replace(plan, feeds=tuple(small))
    drawn = sample(PlanFacts(lying, (PROFILE,)), 2000, 1)
    assert not drawn.agrees
    assert [one.agrees for one in drawn.excesses] == [False, True, True]


def test_runs_outside_the_bounds_are_reported_with_their_seed() -> None:
    plan = lesson()
    few = msgspec.structs.replace(plan.bounds, balls=(5, 5))
    drawn = sample(PlanFacts(msgspec.structs.replace(plan, bounds=few), (PROFILE,)), 40, 100)
    assert not drawn.agrees
    assert all(100 <= one.seed < 140 for one in drawn.surprises)


@pytest.mark.parametrize("sigma", [3.0, 4.0])
def test_allowed_shares_are_those_of_the_normal_law(sigma: float) -> None:
    """Against scipy.stats: chi-square of two degrees (ellipse), the normal's tail (ends)."""
    from feedscript.check.sample import _shares

    ellipse, end = _shares(sigma)
    assert math.isclose(ellipse, stats.chi2.sf(sigma**2, df=2), rel_tol=1e-12)
    assert math.isclose(end, stats.norm.sf(sigma), rel_tol=1e-9)


#: What the drawn balls are said to do where each of these rules is broken.
PLACES = {
    "into-keep-out": "came too near a keep-out",
    "into-neighbour": "entered the court beside",
    "through-launcher": "came too near another launcher",
    "past-other-players": "came too near another station's players",
    "crossing-corridors": "came too near a ball of the station beside",
    "over-fence": "came too high at the fence",
    "under-roof": "came too near the roof",
}
BROKEN = [case for case in CASES if case.slug in PLACES and "who knows where" not in case.name]


def test_every_rule_of_places_is_looked_at() -> None:
    assert {case.slug for case in BROKEN} == PLACES.keys()


@pytest.mark.parametrize("case", BROKEN, ids=lambda case: f"{case.slug}: {case.name}")
def test_drawn_balls_where_they_may_not_come_are_noticed(case: PlanCase) -> None:
    said = {one.what: one for one in sample(PlanFacts(*case.unsafe()), 300, 1).excesses}
    assert not said[PLACES[case.slug]].agrees
    assert all(one.agrees for one in sample(PlanFacts(*case.safe()), 300, 1).excesses)


@pytest.mark.parametrize(
    "pair", [one for one in pairs() if one.slug in PLACES], ids=lambda one: one.name
)
def test_drawn_balls_agree_with_the_verdict_on_whole_programs(pair: Pair, tmp_path: Path) -> None:
    unsafe = check_program(tmp_path / "program.feed", text=pair.unsafe)
    safe = check_program(tmp_path / "program.feed", text=pair.safe)
    assert unsafe.facts is not None
    assert safe.plan is not None
    assert safe.facts is not None
    said = {one.what: one for one in sample(unsafe.facts, 200, 1).excesses}
    assert not said[PLACES[pair.slug]].agrees
    assert sample(safe.facts, 200, 1).agrees


def test_excess_has_room_for_chance_and_no_more() -> None:
    """At three standard errors over a fifth more than the normal law: practically never by luck."""
    share, balls = 0.011, 100_000
    assert Excess("landed", round(share * balls), balls, share).agrees
    assert not Excess("landed", round(share * balls * 1.4), balls, share).agrees
    honest = stats.binom.sf(Excess("landed", 0, balls, share).most, balls, share)
    assert honest < 1e-6


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_a_million_balls_of_the_shipped_programs() -> None:
    total: dict[str, np.ndarray] = {}
    balls = 0
    wanted = 1_000_000
    programs = list(shipped_programs().values())
    for path in programs:
        verdict = check_program(path)
        assert verdict.plan is not None, path
        assert verdict.facts is not None, path
        runs = math.ceil(wanted / len(programs) / verdict.plan.bounds.balls[0])
        drawn: Sample = sample(verdict.facts, runs, 1)
        assert drawn.surprises == (), path
        balls += drawn.balls
        for one in drawn.excesses:
            counts = np.array([one.count, one.balls * one.allowed_share])
            total[one.what] = total.get(one.what, np.zeros(2)) + counts
        print(path.stem, drawn.balls, [(one.what, one.count) for one in drawn.excesses])
    print(balls, {what: list(counts) for what, counts in total.items()})
    assert balls >= wanted
    for what, (count, expected) in total.items():
        assert Excess(what, int(count), balls, expected / balls).agrees, (what, count, expected)
