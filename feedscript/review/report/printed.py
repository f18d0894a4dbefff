"""The report of a lesson as PDF, A4 (the extra ``plots``): the page's words, tables and charts."""

from __future__ import annotations

from importlib.util import find_spec

from feedscript.diagnostics import Diagnostic, Page, Severity
from feedscript.review.drawing.raster import NO_PLOTS, png_of
from feedscript.review.drawing.svg import write
from feedscript.review.report import words
from feedscript.review.report.charts import Charts, charts_of, charts_of_feed
from feedscript.review.report.figures import PlayerFigures
from feedscript.review.report.html import Review, feed_table, player_table, whole_feed_table
from feedscript.review.report.paper import Paper, not_in_font

NO_SHAPE = Page(
    slug="letters-missing",
    title="Letters that the PDF's font cannot draw",
    why=(
        "The PDF is set in DejaVu Sans, which has the letters of Europe's languages and many more, "
        "but no Chinese or Japanese and few pictures. What it lacks is drawn as an empty box."
    ),
    severity=Severity.WARNING,
)

#: About what a feed's words and charts need.
_FEED_MM = 100.0
#: The widest that a chart becomes, and how sharp: 300 dots an inch.
_CHART_MM = 66.0
_CHART_PX = round(_CHART_MM / 25.4 * 300)


def report_pdf(review: Review) -> bytes | Diagnostic:
    """The report as PDF bytes, or which extra is missing."""
    for library in ("matplotlib", "resvg_py"):
        if find_spec(library) is None:
            return NO_PLOTS.report(
                f"PDF needs {library}, which is not installed",
                help="pip install 'feedscript[plots]', or write to a name that ends in .html",
            )
    paper = Paper()
    paper.paragraph(review.title, 17.0, bold=True)
    paper.paragraph(words.facts(review.lesson, sheet=review.sheet), 9.0, soft=True)
    if not review.sheet:
        paper.gap(4.0)
        paper.table(*player_table(review))
        if len(review.players) > 1:
            paper.gap(6.0)
            paper.table(*whole_feed_table(review))
            _notes(paper, review)
    for one in review.players:
        missing = _player(paper, one, review)
        if missing is not None:
            return missing
    if review.sheet or len(review.players) <= 1:
        _notes(paper, review)
    else:
        missing = _feed_by_feed(paper, review)
        if missing is not None:
            return missing
    return paper.as_pdf(review.title)


def letters_missing(review: Review) -> Diagnostic | None:
    """A warning where names have letters that the PDF's font lacks."""
    names = [review.title, *(one.player or "" for one in review.players), *review.feeds]
    missing = not_in_font("".join(names))
    if not missing:
        return None
    return NO_SHAPE.report(
        f"the PDF's font has no shape for: {' '.join(missing)}",
        help="print the page instead: write to a name that ends in .html",
    )


def _player(paper: Paper, one: PlayerFigures, review: Review) -> Diagnostic | None:
    if not review.sheet and len(review.players) > 1:
        paper.new_page()
        paper.paragraph(words.name_of(one.player), 14.0, bold=True)
    paper.gap(2.0)
    for sentence in words.told(one, sheet=review.sheet):
        paper.paragraph(sentence)
    if one.whole.share.recorded:
        paper.gap(2.0)
        paper.paragraph(words.ADVICE[one.whole.next_step], bold=True)
    paper.gap(4.0)
    lesson = review.lesson
    charts = charts_of(one, lesson.begun_utc_s, lesson.court, sheet=review.sheet)
    missing = _pictures(paper, charts)
    if missing is None:
        paper.gap(4.0)
        paper.table(*feed_table(one.by_feed, sheet=review.sheet))
    return missing


def _feed_by_feed(paper: Paper, review: Review) -> Diagnostic | None:
    paper.new_page()
    paper.paragraph("Feed by feed, everyone", 14.0, bold=True)
    for feed, numbers in review.feeds.items():
        paper.keep_together(_FEED_MM)
        paper.gap(3.0)
        paper.paragraph(words.feed_name(feed), 11.0, bold=True)
        paper.paragraph(" ".join(words.told_of_feed(numbers)))
        paper.gap(3.0)
        missing = _pictures(paper, charts_of_feed(numbers, review.lesson.court))
        if missing is not None:
            return missing
    return None


def _pictures(paper: Paper, charts: Charts) -> Diagnostic | None:
    """Three in a row where there are three, else two."""
    pictures: list[tuple[bytes, str]] = []
    for _, caption, drawn in charts:
        png = png_of(write(drawn), _CHART_PX)
        if isinstance(png, Diagnostic):
            return png
        pictures.append((png, caption))
    in_row = 3 if len(pictures) == 3 else 2
    for at in range(0, len(pictures), in_row):
        paper.pictures(pictures[at : at + in_row], in_row, _CHART_MM)
    return None


def _notes(paper: Paper, review: Review) -> None:
    paper.gap(8.0)
    for note in review.notes:
        paper.paragraph(note, 8.0, soft=True)
        paper.gap(1.0)
