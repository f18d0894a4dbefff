"""Charts of a report as PNG files (the extra ``plots``)."""

from __future__ import annotations

import re
from pathlib import Path

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.review.charts import error_rose, trend_bars
from feedscript.review.figures import PlayerFigures

EXTRA_MISSING = Page(
    slug="extra-missing",
    title="A part that this needs is not installed",
    why=(
        "The heavy parts (pictures as PNG, Bluetooth, the court-side page, the editor) are extras, "
        "so that the rest installs quickly. The message names the one that is missing."
    ),
)

#: Chart pixels to one unit of the drawing: sharp on paper.
SCALE = 3


def write_pictures(players: tuple[PlayerFigures, ...], folder: Path) -> tuple[Path, ...]:
    """Two PNG files for each player with records: where the balls went, and the trend."""
    try:
        import resvg_py
    except ImportError as missing:
        raise FeedscriptError(
            EXTRA_MISSING.report(
                "writing PNG needs the extra 'plots'", help="pip install 'feedscript[plots]'"
            )
        ) from missing
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for one in players:
        if not one.whole.recorded:
            continue
        stem = re.sub(r"[^\w-]+", "-", one.player or "nobody")
        for name, svg in (("errors", error_rose(one.whole)), ("trend", trend_bars(one.whole))):
            path = folder / f"{stem}-{name}.png"
            path.write_bytes(bytes(resvg_py.svg_to_bytes(svg_string=svg, zoom=SCALE)))
            written.append(path)
    return tuple(written)
