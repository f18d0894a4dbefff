"""Whatever program is accepted, nobody's place is met by more balls than the stated sigma lets out.

Drawn programs, drawn places, and balls that SciPy flew: see ``areas_by_scipy``.
"""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedscript.check.check_program import check_program
from feedscript.safety.analysis.plan_facts import PlanFacts
from tests.safety.areas_by_scipy import (
    BEND,
    SHARE,
    Entered,
    coaches,
    flown,
    keep_outs,
    plan_of,
    surroundings,
    written,
)
from tests.safety.random_programs import Drawn, accepted


def facts_of(drawn: Drawn) -> PlanFacts:
    return PlanFacts(plan_of(drawn), drawn.verdict.profiles)


def held_against(drawn: Drawn, seed: int, areas: int, balls: int) -> Iterator[Entered]:
    random, facts = np.random.default_rng([seed, 1]), facts_of(drawn)
    seen = flown(drawn, balls, seed)
    yield from keep_outs(drawn, facts, seen, areas, random)
    yield from coaches(drawn, seen, random)
    yield from surroundings(drawn, facts, seen, random)


@pytest.mark.parametrize("seed", range(2))
def test_nobody_is_met_by_more_balls_than_three_sigma_let_out(seed: int) -> None:
    (drawn,) = islice(accepted([11, seed]), 1)
    found = list(held_against(drawn, seed, areas=15, balls=1200))
    assert len(found) >= 10
    assert [one for one in found if one.too_many] == []


def test_what_the_rule_lets_be_the_whole_program_may_declare() -> None:
    (drawn,) = islice(accepted([11, 0]), 1)
    seen, random = flown(drawn, 200, 1), np.random.default_rng(4)
    found = keep_outs(drawn, facts_of(drawn), seen, 9, random)
    text = written(drawn.text, [one.where for one in found])
    assert check_program(Path("drawn.feed"), text=text).ok


def test_a_corridor_too_narrow_is_noticed() -> None:
    """The oracle's own trial: with two thirds of the scatter left out, balls get to people."""
    (drawn,) = islice(accepted([11, 1]), 1)
    facts, random = facts_of(drawn), np.random.default_rng(2)
    narrow = [
        msgspec.structs.replace(
            one, single_m=one.single_m / 3, joint_m=one.joint_m / 3, other_m=one.other_m / 3
        )
        for one in facts.envelopes
    ]
    facts.__dict__["envelopes"] = tuple(narrow)
    found = keep_outs(drawn, facts, flown(drawn, 1200, 1), 15, random)
    assert sum(one.too_many for one in found) >= 3


@pytest.mark.long
@pytest.mark.timeout(4 * 3600)
def test_twenty_thousand_places_on_three_hundred_programs() -> None:
    total: dict[str, np.ndarray] = defaultdict(lambda: np.zeros(3))
    too_many, start, flights = [], time.monotonic(), 0
    for seed, drawn in enumerate(islice(accepted([12]), 300)):
        for one in held_against(drawn, seed, areas=78, balls=2000):
            total[one.what] += one.balls, one.entries, 1
            too_many += [one] if one.too_many else []
        flights += 2000
    for what, (balls, entries, places) in total.items():
        print(f"{what}: {places:.0f} places, {entries:.0f} of {balls:.0f} balls too near")
    print(f"{flights} balls, {time.monotonic() - start:.0f} s, too many at {len(too_many)}")
    assert too_many == []
    assert sum(one[2] for one in total.values()) >= 20_000
    for balls, entries, _ in total.values():
        assert entries <= balls * SHARE * BEND
