"""Of all the corridors that may meet, the nearest are found, and few are measured closely."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest

from feedscript.check.check_program import check_program
from feedscript.safety.analysis.areas import PERSON_M, Stay, square, stay_clear
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.hazards import gaps
from feedscript.safety.hazards.gaps import apart_m, clearance_m
from feedscript.safety.rules import crossing_corridors
from feedscript.safety.rules.crossing_corridors import LIMIT, RULE, meetings

HEAD = """feedscript 1
court { lines doubles  surface hard }
balls { type 2 }
group { 4 players  level club }
launcher west { profile "garage.toml"  stands 1 m behind baseline, 1.6 m to deuce of centre mark }
launcher east { profile "garage.toml"  stands 1 m behind baseline, 1.6 m to ad of centre mark }
"""


def facts_of(land_m: float, feeds: int, seed: int) -> PlanFacts:
    """Two stations side by side whose feeds land about so far from the middle, each its own way."""
    drawn = random.Random(seed)
    sends: tuple[list[str], list[str]] = ([], [])
    text = HEAD
    for index in range(feeds):
        x_m = (1, -1)[index % 2] * (land_m + drawn.uniform(-0.3, 0.3))
        y_m, speed = drawn.uniform(7.5, 9.5), drawn.uniform(76, 88)
        text += f"feed f{index} {{ land at {x_m:.2f} m, {y_m:.2f} m  speed {speed:.0f} km/h }}\n"
        sends[index % 2].append(f"send f{index} after 8 s")
    west, east = ("  ".join(each) for each in sends)
    text += (
        "lesson { show speed of f0  show speed of f1  together {\n"
        f'    station "a" on launcher west {{ {west} }}\n'
        f'    station "b" on launcher east {{ {east} }}\n}}  collect }}\n'
    )
    verdict = check_program(Path("two.feed"), text=text)
    assert verdict.facts is not None
    return verdict.facts


CASES = [(1.3, 10, 1), (0.85, 8, 22), (0.85, 8, 31), (0.85, 8, 37), (0.5, 8, 4), (2.4, 8, 5)]


@pytest.mark.parametrize(("land_m", "feeds", "seed"), CASES)
def test_worst_and_breaches_are_those_of_all_pairs(land_m: float, feeds: int, seed: int) -> None:
    facts = facts_of(land_m, feeds, seed)
    each: dict[int, float] = {}
    for one in meetings(facts):
        gap = apart_m(facts.envelopes[one.first], facts.envelopes[one.second])
        each[one.second] = min(gap, each.get(one.second, math.inf))
    found = RULE.find(facts)
    assert found.worst.value == min(each.values())
    broken = {feed for feed, gap in each.items() if gap < LIMIT.default}
    assert {breach.feed for breach in found.breaches} == broken


@pytest.mark.parametrize("land_m", [0.8, 0.5])
def test_few_pairs_are_measured_closely(land_m: float, monkeypatch: pytest.MonkeyPatch) -> None:
    facts = facts_of(land_m, 20, 6)
    pairs = len(meetings(facts))
    closely, plain = set(), gaps._apart

    def seen(one, other, *rest):
        closely.add((id(one), id(other)))
        return plain(one, other, *rest)

    monkeypatch.setattr(gaps, "_apart", seen)
    crossing_corridors.RULE.find(facts)
    assert pairs >= 100
    assert len(closely) < pairs / 2


@pytest.mark.parametrize("middle_m", [(2.4, 6.0), (1.6, 8.0), (3.4, 8.0)])
def test_areas_are_measured_as_closely_as_it_matters(middle_m: tuple[float, float]) -> None:
    facts = facts_of(1.0, 8, 7)
    area = square("bench", middle_m, 1)
    stays = [Stay(feed, area, "keep-out") for feed in range(8)]
    outline = np.array(area.outline_m)
    each = [clearance_m(envelope, outline, PERSON_M) for envelope in facts.envelopes]
    found = stay_clear(facts, stays, 0.3, "")
    assert found.worst.value == min(each)
    assert {breach.feed for breach in found.breaches} == {
        feed for feed, gap in enumerate(each) if gap < 0.3
    }
