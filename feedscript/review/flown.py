"""What a picture is drawn from: each feed of a plan with its flight, bound to a style."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from feedscript.plan.model import AimedFeed
from feedscript.review.palette import Style, style

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FlownFeed:
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


def dressed(
    feeds: tuple[AimedFeed, ...], paths: list[Array], after: list[Array] | None = None
) -> tuple[FlownFeed, ...]:
    """Feeds with their paths and a style for each wish."""
    styles: dict[str, Style] = {}
    flown = []
    for index, (feed, path) in enumerate(zip(feeds, paths, strict=True)):
        wish = feed.wish or feed.name
        leads = wish not in styles
        chosen = styles.setdefault(wish, style(len(styles)))
        flown.append(FlownFeed(feed, chosen, path, after[index] if after else None, leads))
    return tuple(flown)
