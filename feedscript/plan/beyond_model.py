"""Feeds that leave what the flight model was published for."""

from __future__ import annotations

from math import hypot

from feedscript.diagnostics import Diagnostic, Related
from feedscript.flight.models import DEFAULT_MODEL
from feedscript.flight.published_range import BEYOND_MODEL, HELP, Beyond, beyond
from feedscript.plan.compile import Compiled

#: So many feeds are named, the others counted.
_NAMED = 3


def beyond_model(compiled: Compiled) -> tuple[Diagnostic, ...]:
    """One warning, if any, for speeds and spins that nobody published a measurement for.

    Gentle feeds often have hardly any spin, so it names all the feeds of a program, at the words
    of the first. Feeds that are refused already are left out.
    """
    found: dict[str, list[tuple[int, Beyond]]] = {}
    feeds = compiled.plan.feeds if compiled.plan is not None else ()
    for index, feed in enumerate(feeds):
        if index not in compiled.unsound:
            for one in beyond(DEFAULT_MODEL, feed.speed_mps, hypot(feed.top_rpm, feed.side_rpm)):
                found.setdefault(one.part, []).append((index, one))
    return (_warning(compiled, list(found.values())),) if found else ()


def _warning(compiled: Compiled, found: list[list[tuple[int, Beyond]]]) -> Diagnostic:
    """``found``: for speed, for spin or for both, which feeds are outside and how."""
    at, *others = (compiled.places.feed(told[0][0], told[0][1].part) for told in found)
    words = ", and ".join(_told(compiled, told) for told in found)
    return BEYOND_MODEL.report(
        f"where these balls land is less sure than it looks: {words} ({DEFAULT_MODEL.name})",
        help=HELP,
        span=at,
        related=[Related(other, "and this") for other in others],
    )


def _told(compiled: Compiled, told: list[tuple[int, Beyond]]) -> str:
    assert compiled.plan is not None
    feeds = [compiled.plan.feeds[index] for index, _ in told]
    names = _listed(list(dict.fromkeys(feed.wish or feed.name for feed in feeds)))
    values = [each.value for _, each in told]
    return f"{names}: {told[0][1].words(min(values), max(values))}"


def _listed(names: list[str]) -> str:
    """Names as a sentence has them."""
    named = names[:_NAMED]
    more = len(names) - len(named)
    if more:
        return f"{', '.join(named)} and {more} more"
    return " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)
