"""What a picture is drawn from: each feed of a plan with its flight, bound to a style."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.bounce import Surface
from feedscript.plan.aiming.flying import surface_for
from feedscript.plan.model import AimedFeed
from feedscript.review.drawing.palette import Style, style
from feedscript.safety.analysis.plan_facts import PlanFacts

Array = NDArray[np.float64]

#: Points of a drawn way, to the first bounce and on from it.
_POINTS, _POINTS_AFTER = 60, 40


class DrawnFlight(msgspec.Struct, frozen=True, eq=False):
    """One aimed feed and where its ball goes: arrays (n, 3) in court axes."""

    feed: AimedFeed
    style: Style
    path_m: Array
    after_m: Array | None = None  # from the bounce to the second bounce or the receiver
    leads: bool = True  # the first of its wish: it carries the label

    @property
    def wish(self) -> str:
        """The name in the program, shared by varied and mirrored forms."""
        return self.feed.wish or self.feed.name


def drawn_flights(facts: PlanFacts) -> tuple[DrawnFlight, ...]:
    """Every feed of a plan on its way, as the checker has worked it out already.

    Where the court's surface is known the ball is followed to its second bounce.
    """
    plan = facts.plan
    found: list[Array] = [np.empty((0, 3))] * len(plan.feeds)
    after: list[Array | None] = [None] * len(plan.feeds)
    for number, batch in enumerate(facts.batches):
        for index, (first, second) in zip(batch.throws.feeds, ways(facts, number), strict=True):
            found[index], after[index] = first, second
    return styled(plan.feeds, found, after)


def ways(
    facts: PlanFacts, batch: int, rows: Sequence[int] | None = None
) -> list[tuple[Array, Array | None]]:
    """The drawn ways of a batch's feeds, or of some rows of it, to the bounce and on from it."""
    throws, surface = facts.batches[batch].throws, surface_for(facts.plan.court)
    throws = throws if rows is None else throws.of(rows)
    if not isinstance(surface, Surface):
        return [(path, None) for path in throws.before(_POINTS).place_m]
    before = throws.before(_POINTS, surface).place_m
    after = throws.after(surface, _POINTS_AFTER).place_m
    return [
        (path, on if np.isfinite(on).all() else None)
        for path, on in zip(before, after, strict=True)
    ]


def styled(
    feeds: tuple[AimedFeed, ...],
    paths_m: Sequence[Array],
    after_m: Sequence[Array | None] | None = None,
) -> tuple[DrawnFlight, ...]:
    """Feeds with their paths and a style for each wish."""
    styles: dict[str, Style] = {}
    flights = []
    for index, (feed, path) in enumerate(zip(feeds, paths_m, strict=True)):
        wish = feed.wish or feed.name
        leads = wish not in styles
        chosen = styles.setdefault(wish, style(len(styles)))
        flights.append(DrawnFlight(feed, chosen, path, after_m[index] if after_m else None, leads))
    return tuple(flights)
