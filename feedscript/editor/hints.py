"""Small grey figures beside a feed: where it lands in metres, and how it is aimed."""

from __future__ import annotations

from collections.abc import Iterator

from feedscript.editor.document import Document
from feedscript.language.program import FeedWish
from feedscript.plan.model import AimedFeed

_SETTLED_BY = ("speed", "apex", "flight", "contact")


def hints(document: Document) -> Iterator[tuple[int, str]]:
    """Each hint and the offset that it stands behind."""
    program = document.verdict.program
    if program is None:
        return
    aimed = document.aimed()
    for name, wish in program.feeds.items():
        if wish.span.source != program.source or name.startswith("mirror "):
            continue
        if name.endswith("(left-hander)"):
            continue
        yield from _of_feed(document, wish, aimed.get(name))


def _of_feed(
    document: Document, wish: FeedWish, feed: AimedFeed | None
) -> Iterator[tuple[int, str]]:
    inside = {
        key: span
        for key, span in wish.spans.items()
        if span.source == wish.span.source and wish.span.line <= span.line <= wish.span.end_line
    }
    land = inside.get("land")  # a sweep goes to no one place
    x_m, y_m = wish.land_m
    source = document.scope.source
    if land is not None:
        yield source.offset(land.end_line, land.end_column), f"= {x_m:+.2f}, {y_m:.2f} m"
    if feed is None:
        return
    settled = next((inside[key] for key in _SETTLED_BY if key in inside), wish.span)
    at = source.offset(settled.end_line, settled.end_column)
    yield (
        at,
        f"{feed.elevation_deg:.1f}° up, {feed.net_clearance_m:.2f} m over net, "
        f"{feed.flight_s:.2f} s",
    )
