"""Feeds that leave what the flight model was published for."""

from __future__ import annotations

from math import hypot

from feedscript.diagnostics import Diagnostic, Span
from feedscript.flight.models import DEFAULT_MODEL
from feedscript.flight.published_range import BEYOND_MODEL, HELP, beyond
from feedscript.plan.compile import Compiled


def beyond_model(compiled: Compiled) -> tuple[Diagnostic, ...]:
    """A warning on each feed whose speed or spin nobody published a measurement for.

    Once for each definition: the variants of a varied feed and its mirror share their words. Feeds
    that are refused already are left out.
    """
    warned: dict[Span, Diagnostic] = {}
    feeds = compiled.plan.feeds if compiled.plan is not None else ()
    for index, feed in enumerate(feeds):
        span = compiled.places.feed(index)
        words = beyond(DEFAULT_MODEL, feed.speed_mps, hypot(feed.top_rpm, feed.side_rpm))
        if words and span not in warned and index not in compiled.unsound:
            place = compiled.places.feed(index, "speed")
            message = f"{feed.wish or feed.name}: {words}"
            warned[span] = BEYOND_MODEL.report(message, help=HELP, span=place)
    return tuple(warned.values())
