"""Which feeds fly at the same time as which others, of different launchers.

Those of stations side by side; and those that leave so soon after one another, before the stations
begin, after they have ended or from one round to the next, that the first may still fly.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from feedscript.plan.bodies import bodies
from feedscript.plan.folds.across import Across, across
from feedscript.plan.model import Plan, Send, ShowSpeed, Step, Together


def feeds_in(steps: Sequence[Step]) -> frozenset[int]:
    """Every feed that these steps may send, by index."""
    found: set[int] = set()
    for step in steps:
        if isinstance(step, Send):
            found.update(step.all_feeds())
        elif isinstance(step, ShowSpeed):
            found.add(step.feed)
        for body in bodies(step):
            found |= feeds_in(body)
    return frozenset(found)


def _stations(steps: Sequence[Step]) -> Iterator[Together]:
    for step in steps:
        if isinstance(step, Together):
            yield step
        for body in bodies(step):
            yield from _stations(body)


def side_by_side(plan: Plan) -> frozenset[tuple[int, int]]:
    """Every pair of feeds of stations side by side, lower index first."""
    pairs: set[tuple[int, int]] = set()
    for step in _stations(plan.steps):
        sent = [feeds_in(station.body) for station in step.stations]
        for left, right in combinations(sent, 2):
            pairs.update((min(a, b), max(a, b)) for a in left for b in right if a != b)
    return frozenset(pairs)


def in_the_air_at_once(
    plan: Plan, beside: frozenset[tuple[int, int]]
) -> dict[tuple[int, int], Across | None]:
    """Every pair of feeds of different launchers, lower index first, that may fly at the same time.

    With the nearest of the ways in which one follows the other; None where they are ``beside``
    each other, as :func:`side_by_side` says.
    """
    return at_once(across(plan), beside)


def at_once(
    ways: Iterable[Across], beside: Iterable[tuple[int, int]]
) -> dict[tuple[int, int], Across | None]:
    """The same of these ways in which one ball may follow another, and of these pairs."""
    found: dict[tuple[int, int], Across | None] = {}
    for one in sorted(ways, key=lambda one: one.least_gap_s):
        found.setdefault((min(one.before, one.after), max(one.before, one.after)), one)
    return found | dict.fromkeys(beside)


def most_stations(steps: Sequence[Step]) -> int:
    """The most stations with a launcher that run side by side anywhere in these steps; 1 without
    any."""
    here = [
        sum(station.launcher is not None for station in step.stations)
        for step in steps
        if isinstance(step, Together)
    ]
    inside = [most_stations(body) for step in steps for body in bodies(step)]
    return max([1, *here, *inside])
