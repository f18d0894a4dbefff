"""What a picture is drawn from: each feed of a plan with its flight, bound to a style."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.bounce import Surface, rebound
from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import fly
from feedscript.flight.motion.tracks import paths
from feedscript.launcher.profile.model import Profile
from feedscript.plan.aiming.flying import conditions_for, surface_for
from feedscript.plan.model import AimedFeed, Plan
from feedscript.review.drawing.palette import Style, style

Array = NDArray[np.float64]


class FlownFeed(msgspec.Struct, frozen=True, eq=False):
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


def fly_plan(plan: Plan, profiles: Sequence[Profile]) -> tuple[FlownFeed, ...]:
    """Every feed of a plan flown again from its figures; ``profiles`` by launcher index.

    Where the court's surface is known the ball is followed to its second bounce.
    """
    found: list[Array] = [np.empty((0, 3))] * len(plan.feeds)
    after: list[Array | None] = [None] * len(plan.feeds)
    for index in range(len(plan.launchers)):
        mine = [k for k, feed in enumerate(plan.feeds) if feed.launcher == index]
        if not mine:
            continue
        first, second = _fly(plan, index, mine, profiles[index])
        for row, k in enumerate(mine):
            found[k] = first[row]
            if second is not None and np.isfinite(second[row]).all():
                after[k] = second[row]
    return dressed(plan.feeds, found, after)


def _fly(
    plan: Plan, index: int, mine: Sequence[int], profile: Profile
) -> tuple[Array, Array | None]:
    """Paths of one launcher's feeds to the bounce, and on from it where that is known."""
    feeds = [plan.feeds[k] for k in mine]
    x_m, y_m, z_m = plan.launchers[index].mouth_m
    launches = Launches.of(
        [feed.speed_mps for feed in feeds],
        [feed.elevation_deg for feed in feeds],
        [feed.azimuth_deg for feed in feeds],
        top_rpm=[feed.top_rpm for feed in feeds],
        side_rpm=[feed.side_rpm for feed in feeds],
        x_m=x_m,
        y_m=y_m,
        z_m=z_m,
    ).thrown_by_wheels()
    conditions = conditions_for(plan.court, plan.balls, profile)
    first, _ = paths(launches, conditions)
    surface = surface_for(plan.court)
    if not isinstance(surface, Surface):
        return first, None
    bounced = rebound(fly(launches, conditions), conditions, surface)
    return first, paths(bounced.release, conditions, 40)[0]


def dressed(
    feeds: tuple[AimedFeed, ...],
    paths_m: Sequence[Array],
    after_m: Sequence[Array | None] | None = None,
) -> tuple[FlownFeed, ...]:
    """Feeds with their paths and a style for each wish."""
    styles: dict[str, Style] = {}
    flown = []
    for index, (feed, path) in enumerate(zip(feeds, paths_m, strict=True)):
        wish = feed.wish or feed.name
        leads = wish not in styles
        chosen = styles.setdefault(wish, style(len(styles)))
        flown.append(FlownFeed(feed, chosen, path, after_m[index] if after_m else None, leads))
    return tuple(flown)
