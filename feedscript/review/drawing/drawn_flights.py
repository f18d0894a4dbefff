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
    plan, known = facts.plan, surface_for(facts.plan.court)
    surface = known if isinstance(known, Surface) else None
    found: list[Array] = [np.empty((0, 3))] * len(plan.feeds)
    after: list[Array | None] = [None] * len(plan.feeds)
    for throws in (batch.throws for batch in facts.batches):
        first = throws.before(_POINTS, surface).place_m
        second = None if surface is None else throws.after(surface, _POINTS_AFTER)
        for row, index in enumerate(throws.feeds):
            found[index] = first[row]
            if second is not None and np.isfinite(second.place_m[row]).all():
                after[index] = second.place_m[row]
    return styled(plan.feeds, found, after)


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
