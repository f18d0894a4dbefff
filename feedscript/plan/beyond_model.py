"""Feeds that leave what the flight model was published for."""

from __future__ import annotations

from math import hypot

from feedscript.diagnostics import Diagnostic, Span
from feedscript.flight.models import DEFAULT_MODEL
from feedscript.flight.published_range import BEYOND_MODEL, HELP, beyond
from feedscript.plan.compile import Compiled


def beyond_model(compiled: Compiled) -> tuple[Diagnostic, ...]:
    """A warning on each feed whose speed or spin nobody published a measurement for.

    Once for the same words: variants, mirrors and derived feeds share them. Feeds that are refused
    already are left out.
    """
    warned: dict[tuple[Span, str], Diagnostic] = {}
    speeds = DEFAULT_MODEL.speed_mps
    feeds = compiled.plan.feeds if compiled.plan is not None else ()
    for index, feed in enumerate(feeds):
        words = beyond(DEFAULT_MODEL, feed.speed_mps, hypot(feed.top_rpm, feed.side_rpm))
        if words is None or index in compiled.unsound:
            continue
        measured = speeds.least <= feed.speed_mps <= speeds.most
        place = compiled.places.feed(index, "spin" if measured else "speed")
        message = f"{feed.wish or feed.name}: {words}"
        warned.setdefault((place, words), BEYOND_MODEL.report(message, help=HELP, span=place))
    return tuple(warned.values())
