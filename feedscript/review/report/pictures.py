"""Charts of a report as PNG files (the extra ``plots``)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from feedscript.diagnostics import Diagnostic
from feedscript.host.private_file import private_folder, write_private
from feedscript.review.drawing.raster import png_of
from feedscript.review.drawing.svg import Element, write
from feedscript.review.report.charts import charts_of
from feedscript.review.report.film.section import film_charts
from feedscript.review.report.html import Review

#: Sharp on paper.
WIDTH_PX = 900


def write_pictures(review: Review, folder: Path) -> tuple[Path, ...] | Diagnostic:
    """A PNG file for each chart of each player with records, and for each feed that a film saw
    land; or what keeps them from being drawn.

    Raises OSError when the folder cannot be written.
    """
    private_folder(folder)  # the files are named after players
    written: list[Path] = []
    for stem, kind, drawn in _every_chart(review):
        png = png_of(write(drawn), WIDTH_PX)
        if isinstance(png, Diagnostic):
            return png
        path = folder / f"{stem}-{kind}.png"
        write_private(path, png)
        written.append(path)
    return tuple(written)


def _every_chart(review: Review) -> Iterator[tuple[str, str, Element]]:
    """How its file's name begins and ends, and the chart."""
    lesson = review.lesson
    for number, one in enumerate(review.players, start=1):
        # Two names may be the same without the letters that a file's name cannot hold.
        name = re.sub(r"[^\w-]+", "-", one.player or "nobody")
        stem = name if review.sheet else f"{number}-{name}"
        for kind, _, drawn in charts_of(one, lesson.begun_utc_s, lesson.court, sheet=review.sheet):
            yield stem, kind, drawn
    if not review.sheet:
        for kind, _, drawn in film_charts(lesson):
            yield "feeds", kind, drawn
