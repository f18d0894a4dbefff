"""Balls of two launchers that feed at once meet neither each other nor the other's players.

Drawn programs, each pushed to the last place that the rules accept, and balls that SciPy flew: see
``flown_by_scipy``. Nothing here asks the project's corridors where a ball goes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import msgspec
import numpy as np
import pytest
from scipy.stats import poisson

from feedscript.check.check_program import check_program
from feedscript.flight.bounce import SURFACES
from feedscript.plan.aiming.flying import conditions_for
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.rules import crossing_corridors, past_other_players
from tests.safety.areas_by_scipy import BEND, CHANCE, SHARE, box, facts_with, most, too_near
from tests.safety.flown_by_scipy import Ways, ways

#: What the rules keep: ways apart, seen from above; a ball from a person's square, and how high.
APART_M, KEPT_M, HALF_SQUARE_M, PERSON_M = 0.5, 0.2, 1.0, 2.2
LAUNCHERS = {"garage": 1800, "single-wheel": None, "three-wheels": 2500, "stepping-head": 1500}


def launcher(random: np.random.Generator) -> tuple[str, str]:
    """A shipped profile, and what a feed may say of its spin."""
    name = str(random.choice(list(LAUNCHERS)))
    most_rpm = LAUNCHERS[name]
    return name, f"spin top {random.uniform(0, most_rpm):.0f} rpm" if most_rpm else ""


def program(random: np.random.Generator) -> Callable[[float], str]:
    """Two stations' program, by how far the second launcher with all its way stands from the first
    one's place, to the right."""
    (west, west_spin), (east, east_spin) = launcher(random), launcher(random)
    first, turn = random.uniform(-4.0, -2.5), random.uniform(-0.8, 0.8, 2)
    behind, y, speed = (
        random.uniform(least, most, 2) for least, most in ((0, 2), (5, 10), (20, 27))
    )
    wind = f"wind head {random.uniform(0, 4):.1f} m/s, ad {random.uniform(0, 4):.1f} m/s"
    court = f"surface {random.choice(['hard', 'clay', 'grass'])}  lines doubles  {wind}"

    def stands(number: int, at_m: float) -> str:
        side = "ad" if at_m < 0 else "deuce"
        beside = f"{abs(at_m):.4f} m {side} of centre mark"
        return f"stands {behind[number]:.3f} m behind baseline, {beside}"

    def feed(number: int, at_m: float, spin: str) -> str:
        lands = f"land at {at_m + turn[number]:.4f} m, {y[number]:.3f} m"
        waits = f"receiver at {at_m + turn[number]:.4f} m, {y[number] + 4:.3f} m"
        return f"{lands}  speed {speed[number]:.2f} m/s  {spin}  {waits}"

    def written(apart_m: float) -> str:
        second = first + apart_m
        return f"""feedscript 1
court {{ {court} }}
balls {{ type 2  load 40 }}
group {{ 4 players  level touring }}
launcher one {{ profile "{west}.toml"  {stands(0, first)} }}
launcher two {{ profile "{east}.toml"  {stands(1, second)} }}
feed left {{ {feed(0, first, west_spin)} }}
feed right {{ {feed(1, second, east_spin)} }}
lesson {{ show speed of left  show speed of right  together {{
    station "a" on launcher one {{ send left after 12 s }}
    station "b" on launcher two {{ send right after 12 s }}
}}  collect }}
"""

    return written


def facts_of(text: str) -> PlanFacts | None:
    """None where a feed is out of reach."""
    verdict = check_program(Path("two.feed"), text=text)
    if any(one.slug == "out-of-reach" for one in verdict.diagnostics):
        return None
    assert verdict.facts is not None
    assert verdict.facts.at_once
    return verdict.facts


def last_accepted(written: Callable[[float], str], halvings: int) -> PlanFacts | None:
    """The case with the launchers as near to each other as the corridors' rule lets them be."""

    def case(apart_m: float) -> PlanFacts | None:
        facts = facts_of(written(apart_m))
        return None if facts is None or crossing_corridors.RULE.find(facts).breaches else facts

    near, far = 0.0, 7.0
    found = case(far)
    for _ in range(halvings if found is not None else 0):
        middle = (near + far) / 2
        nearer = case(middle)
        near, far, found = (near, middle, nearer) if nearer else (middle, far, found)
    return found


def flown(facts: PlanFacts, feed: int, balls: int, random: np.random.Generator) -> Ways:
    plan = facts.plan
    aimed, profile = plan.feeds[feed], facts.profiles[plan.feeds[feed].launcher]
    conditions = conditions_for(plan.court, plan.balls, profile)
    assert plan.court.surface is not None
    surface, mouth_m = SURFACES[plan.court.surface], plan.launchers[aimed.launcher].mouth_m
    return ways(aimed, mouth_m, profile, conditions, surface, balls, random)


def apart_m(one: Ways, other: Ways) -> np.ndarray:
    """How near each ball of the one comes to the one of the other, seen from above, at whatever
    moments; measured between their skins."""
    nearest = []
    for way, beside in zip(one.place_m[:, ::2, :2], other.place_m[:, :, :2], strict=True):
        x, y = (way[:, None, axis] - beside[None, :, axis] for axis in (0, 1))
        nearest.append(np.sqrt((x * x + y * y).min()))
    return np.array(nearest) - one.radius_m - other.radius_m


def cases(seed: int, count: int, halvings: int) -> Iterator[PlanFacts]:
    random = np.random.default_rng([seed, 7])
    found = (last_accepted(program(random), halvings) for _ in range(20 * count))
    yield from islice((one for one in found if one is not None), count)


def too_many_near(near: int, balls: int) -> bool:
    """Either ball may leave its corridor on the other's side."""
    return near > int(poisson.isf(CHANCE, balls * 2 * SHARE * BEND))


def moved(facts: PlanFacts, feed: int, receiver_m: np.ndarray) -> PlanFacts:
    """The case with this feed's receiver somewhere else."""
    feeds, (x, y) = list(facts.plan.feeds), receiver_m.tolist()
    feeds[feed] = msgspec.structs.replace(feeds[feed], receiver_m=(x, y))
    return facts_with(facts, feeds=tuple(feeds))


def lets_be(facts: PlanFacts, flying: int, receiver_m: np.ndarray) -> bool:
    """Whether the rule lets the other feed's receiver wait here."""
    found = past_other_players.RULE.find(moved(facts, 1 - flying, receiver_m))
    return all(one.feed != flying for one in found.breaches)


def into_places(facts: PlanFacts, count: int, seen: list[Ways], seed: int) -> Iterator[int]:
    """How many balls of the one come to the other's receiver, who stands as near to their way as
    the rule lets that be: for so many places about the ball's way."""
    random = np.random.default_rng([seed, 8])
    for flying in (number % 2 for number in range(count)):
        places = seen[flying].place_m[:200].reshape(-1, 3)
        at, turn = places[random.integers(len(places)), :2], random.uniform(0, 2 * np.pi)
        way = np.array([np.cos(turn), np.sin(turn)])
        near, far = 0.0, 9.0
        if not lets_be(facts, flying, at + far * way):
            continue
        for _ in range(9):
            middle = (near + far) / 2
            fine = lets_be(facts, flying, at + middle * way)
            near, far = (near, middle) if fine else (middle, far)
        person = box("who waits", at + far * way, np.full(2, HALF_SQUARE_M), PERSON_M)
        yield too_near(seen[flying], person, KEPT_M)


def held_against(
    facts: PlanFacts, seed: int, balls: int, places: int
) -> Iterator[tuple[str, bool]]:
    """What was held, and whether more balls came too near than three sigma let out."""
    random = np.random.default_rng([seed, 9])
    seen = [flown(facts, feed, balls, random) for feed in (0, 1)]
    near = int(np.sum(apart_m(*seen) < APART_M))
    yield f"{near} of {balls} pairs meet", too_many_near(near, balls)
    for entries in into_places(facts, places, seen, seed):
        yield f"{entries} of {balls} come to a player", entries > most(balls)


@pytest.fixture(scope="module")
def case() -> PlanFacts:
    (facts,) = cases(seed=0, count=1, halvings=4)
    return facts


def test_no_more_balls_meet_than_three_sigma_let_out(case: PlanFacts) -> None:
    found = list(held_against(case, seed=0, balls=600, places=6))
    assert len(found) >= 5
    assert [what for what, too_many in found if too_many] == []


def test_ways_that_are_nearer_than_the_rule_lets_them_be_are_noticed(case: PlanFacts) -> None:
    """The oracle's own trial: the second launcher stands nearer than what was checked."""
    random = np.random.default_rng(3)
    one, other = (flown(case, feed, 300, random) for feed in (0, 1))
    other.place_m[..., 0] -= 0.6
    assert too_many_near(int(np.sum(apart_m(one, other) < APART_M)), 300)


@pytest.mark.long
@pytest.mark.timeout(2 * 3600)
@pytest.mark.parametrize("seed", range(1, 6))
def test_eight_programs_of_two_launchers(seed: int) -> None:
    found = [
        each
        for number, facts in enumerate(cases(seed, count=8, halvings=8))
        for each in held_against(facts, 100 * seed + number, balls=2000, places=30)
    ]
    print(*(what for what, _ in found), sep="\n")
    assert len(found) >= 160
    assert [what for what, too_many in found if too_many] == []
