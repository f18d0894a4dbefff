"""Areas that the rules let be, held against balls that SciPy flew.

For every drawn program areas of all sizes, heights and sides are put on the court: some anywhere
near the balls' way, most pushed towards it up to the last place that the rules accept. Then the
balls are counted that come nearer to an accepted area than its rule says.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
from scipy.stats import norm, poisson

from feedscript.check.check_program import check_program
from feedscript.flight.bounce import SURFACES
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.model import Plan
from feedscript.plan.scene import Area
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Rule
from feedscript.safety.rules import into_keep_out, into_neighbour, over_fence, under_roof
from tests.safety.flown_by_scipy import Ways, ways
from tests.safety.random_programs import Drawn

#: One end of a normal law past three standard deviations.
SHARE = float(norm.sf(3.0))
#: A fifth more is agreement, as for every drawn sample (flights bend); so unlikely is chance.
BEND, CHANCE = 1.2, 1e-6
#: A coach or a keep-out is kept so far from; a neighbouring court is only not entered.
KEPT_M = 0.2


def most(balls: int) -> int:
    """The most of so many balls that may enter one area."""
    return int(poisson.isf(CHANCE, balls * SHARE * BEND))


@dataclass(frozen=True)
class Entered:
    """An accepted area, and how many balls came too near."""

    what: str
    balls: int
    entries: int
    text: str
    where: Any

    @property
    def too_many(self) -> bool:
        return self.entries > most(self.balls)


def flown(drawn: Drawn, balls: int, seed: int) -> list[Ways]:
    """Balls of the program's feed on its surface; on each that there is, where it names none."""
    plan, profile = plan_of(drawn), drawn.verdict.profiles[0]
    conditions = conditions_for(plan.court, plan.balls, profile)
    known, mouth_m = plan.court.surface, plan.launchers[0].mouth_m
    random = np.random.default_rng(seed)
    return [
        ways(plan.feeds[0], mouth_m, profile, conditions, surface, balls, random)
        for surface in ([SURFACES[known]] if known else SURFACES.values())
    ]


def plan_of(drawn: Drawn) -> Plan:
    assert drawn.verdict.plan is not None
    return drawn.verdict.plan


# --- what the rules say


def facts_with(facts: PlanFacts, **changed: object) -> PlanFacts:
    """The case with other surroundings; the feeds' corridors are the same and are not made anew."""
    other = PlanFacts(msgspec.structs.replace(facts.plan, **changed), facts.profiles)
    other.__dict__["envelopes"] = facts.envelopes
    other.__dict__["recomputed"] = facts.recomputed
    return other


def let_be(facts: PlanFacts, areas: list[Area]) -> np.ndarray:
    """Which of these keep-outs the rule lets be."""
    said = " | ".join(
        one.message
        for one in into_keep_out.RULE.find(facts_with(facts, keep_outs=tuple(areas))).breaches
    )
    return np.array([f"the keep-out {area.name} " not in said for area in areas])


def holds(rule: Rule, facts: PlanFacts, **court: object) -> bool:
    """Whether a rule holds on a court that differs in this."""
    other = facts_with(facts, court=msgspec.structs.replace(facts.plan.court, **court))
    return not rule.find(other).breaches


def last_let_be(holds_at: Callable[[float], bool], least: float, most: float) -> float | None:
    """The least value that a rule lets be, to a few millimetres; None if it never does."""
    if not holds_at(most):
        return None
    for _ in range(13):
        middle = (least + most) / 2
        least, most = (least, middle) if holds_at(middle) else (middle, most)
    return most


# --- drawing areas


def box(name: str, middle: np.ndarray, half: np.ndarray, height_m: float | None) -> Area:
    (x, y), (a, b) = middle, half
    outline = ((x - a, y - b), (x + a, y - b), (x + a, y + b), (x - a, y + b))
    return Area(name=name, outline_m=outline, height_m=height_m, line=0)


@dataclass(frozen=True)
class Boxes:
    """Boxes about places that balls pass, and the ways they are pushed off it."""

    places: np.ndarray  # (box, 2)
    halves: np.ndarray
    heights: list[float | None]
    ways: np.ndarray  # (box, 2), one long

    @classmethod
    def drawn(cls, seen: list[Ways], count: int, random: np.random.Generator) -> Boxes:
        every = np.concatenate([one.place_m[:200].reshape(-1, 3) for one in seen])
        turns = random.uniform(0, 2 * np.pi, count)
        heights = [None if random.random() < 0.4 else random.uniform(0.3, 3.5) for _ in turns]
        return cls(
            places=every[random.integers(len(every), size=count), :2],
            halves=random.uniform(0.05, 1.5, (count, 2)),
            heights=heights,
            ways=np.stack([np.cos(turns), np.sin(turns)], axis=-1),
        )

    def at(self, away_m: np.ndarray) -> list[Area]:
        middles = self.places + away_m[:, None] * self.ways
        return [
            box(f"a{n}", *parts)
            for n, parts in enumerate(zip(middles, self.halves, self.heights, strict=True))
        ]


def random_areas(
    facts: PlanFacts, seen: list[Ways], count: int, random: np.random.Generator
) -> list[Area]:
    """Areas anywhere near the balls' way that the rule lets be."""
    areas = Boxes.drawn(seen, count, random).at(random.uniform(0.0, 4.0, count))
    fine = let_be(facts, areas)
    return [area for area, good in zip(areas, fine, strict=True) if good]


def pushed_areas(
    facts: PlanFacts, seen: list[Ways], count: int, random: np.random.Generator
) -> list[Area]:
    """Areas pushed towards the balls' way up to the last place that the rule lets be."""
    boxes = Boxes.drawn(seen, count, random)
    near, far = np.zeros(count), np.full(count, 9.0)
    possible = let_be(facts, boxes.at(far))
    for _ in range(9):
        middle = (near + far) / 2
        fine = let_be(facts, boxes.at(middle))
        near, far = np.where(fine, near, middle), np.where(fine, middle, far)
    return [area for area, good in zip(boxes.at(far), possible, strict=True) if good]


# --- counting balls


def too_near(way: Ways, area: Area, kept_m: float) -> int:
    """How many balls come nearer to the area than is kept, below its height."""
    (west, south), (east, north) = np.min(area.outline_m, axis=0), np.max(area.outline_m, axis=0)
    far = kept_m + way.radius_m
    stretches = way.between(west - far, east + far, south - far, north + far)
    x, y, z = np.moveaxis(way.stretches[stretches], -1, 0)
    beside = np.maximum(np.maximum(west - x, x - east), 0.0)
    before = np.maximum(np.maximum(south - y, y - north), 0.0)
    over = 0.0 if area.height_m is None else np.maximum(z - area.height_m, 0.0)
    reach = np.sqrt(np.maximum(way.radius_m**2 - over**2, 0.0))
    inside = (np.hypot(beside, before) < kept_m + reach) & (over < way.radius_m)
    return len(np.unique(stretches[inside.any(axis=1)] % len(way.place_m)))


def entered(what: str, drawn: Drawn, counts: list[int], balls: int, where: Any) -> Entered:
    """The worst of all surfaces: which one it is, is not chance."""
    return Entered(what, balls, max(counts), drawn.text, where)


def keep_outs(
    drawn: Drawn, facts: PlanFacts, seen: list[Ways], count: int, random: np.random.Generator
) -> Iterator[Entered]:
    balls = len(seen[0].place_m)
    for what, areas in (
        ("drawn keep-out", random_areas(facts, seen, count // 3, random)),
        ("pushed keep-out", pushed_areas(facts, seen, count - count // 3, random)),
    ):
        for area in areas:
            yield entered(what, drawn, [too_near(w, area, KEPT_M) for w in seen], balls, area)


def written(text: str, areas: list[Area]) -> str:
    """The program with these keep-outs declared in it."""
    lines = []
    for area in areas:
        (west, south), (east, north) = (
            np.min(area.outline_m, axis=0),
            np.max(area.outline_m, axis=0),
        )
        high = "" if area.height_m is None else f"  height {area.height_m:.9f} m"
        lines.append(
            f'keep out "{area.name}" {{ between at {west:.9f} m, {south:.9f} m '
            f"and at {east:.9f} m, {north:.9f} m{high} }}"
        )
    return text.replace("lesson {", "\n".join([*lines, "lesson {"]))


def coaches(drawn: Drawn, seen: list[Ways], random: np.random.Generator) -> Iterator[Entered]:
    """Coaches who walk an alley or stand somewhere, declared in the program's own words."""
    x_m, y_m = random.uniform(-6.0, 6.0), random.uniform(1.0, 12.0)
    balls = len(seen[0].place_m)
    for where in ("walks ad alley", "walks deuce alley", f"stands at {x_m:.2f} m, {y_m:.2f} m"):
        text = drawn.text.replace("lesson {", f"coach {{ {where} }}\nlesson {{")
        verdict = check_program(Path("drawn.feed"), text=text)
        if verdict.plan is not None:
            (area,) = verdict.plan.keep_outs
            yield entered("coach", drawn, [too_near(w, area, KEPT_M) for w in seen], balls, area)


def surroundings(
    drawn: Drawn, facts: PlanFacts, seen: list[Ways], random: np.random.Generator
) -> Iterator[Entered]:
    """Neighbours on both sides, a roof and a fence, each as near as the rules let it be."""
    balls = len(seen[0].place_m)
    half = facts.court.doubles_half_width_m or facts.court.half_width_m
    for side, sign in (("ad", 1.0), ("deuce", -1.0)):
        room = last_let_be(
            lambda gap, side=side: holds(  # type: ignore[misc]
                into_neighbour.RULE, facts, neighbours=(side,), side_clearance_m=gap
            ), 0.0, 20.0,
        )  # fmt: skip
        if room is not None:
            past = [
                int(np.sum((sign * w.place_m[..., 0]).max(axis=1) + w.radius_m > half + room))
                for w in seen
            ]
            yield entered("neighbour", drawn, past, balls, (side, room))
    roof = last_let_be(lambda high: holds(under_roof.RULE, facts, roof_m=high), 1.0, 30.0)
    if roof is not None:
        high = [int(np.sum(w.place_m[..., 2].max(axis=1) + w.radius_m > roof - 0.5)) for w in seen]
        yield entered("roof", drawn, high, balls, roof)
    gap = random.uniform(0.0, 8.0)
    fence = last_let_be(
        lambda high: holds(
            over_fence.RULE, facts, fence_height_m=high, fence_behind_baseline_m=gap
        ), 0.0, 30.0,
    )  # fmt: skip
    if fence is not None:
        plane = facts.court.half_length_m + gap
        over = [_over(w, plane, fence - 0.3) for w in seen]
        yield entered("fence", drawn, over, balls, (gap, fence))


def _over(way: Ways, plane_m: float, top_m: float) -> int:
    y, z = way.place_m[..., 1], way.place_m[..., 2]
    there = (y[:, :-1] < plane_m + way.radius_m) & (y[:, 1:] > plane_m - way.radius_m)
    return int(np.any(there & (z[:, :-1] + way.radius_m > top_m), axis=1).sum())
