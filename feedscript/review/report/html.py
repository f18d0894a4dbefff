"""The report of a lesson as one HTML page that stands alone: nothing is fetched, nothing runs.

With a lesson of one player (``lesson_of_player``) it is that player's sheet, to be handed out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import TypeAlias

import msgspec

from feedscript.review.drawing.svg import write
from feedscript.review.report import words
from feedscript.review.report.charts import Charts, charts_of, charts_of_feed
from feedscript.review.report.figures import (
    Figures,
    PlayerFigures,
    feed_figures,
    player_figures,
)
from feedscript.review.report.lesson import ERRORS, Lesson

_STYLE = """
@page { size: A4; margin: 14mm 16mm; }
* { box-sizing: border-box; }
body { font: 16px/1.5 "DejaVu Sans", Verdana, Helvetica, Arial, sans-serif; color: #1a1a1a;
  background: #fff; margin: 0 auto; max-width: 60rem; padding: 1.2rem; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: 0 0 .2rem; }
h2 { font-size: 1.3rem; margin: 2rem 0 .3rem; padding-top: 1rem; border-top: 2px solid #1a1a1a; }
h3 { font-size: 1.1rem; margin: 1.4rem 0 .2rem; }
p { margin: .4rem 0; }
section section { break-inside: avoid; }
.facts, .notes { color: #454d54; }
.notes { font-size: .85rem; margin-top: 2rem; }
.notes li { margin: .25rem 0; }
.charts { display: grid; gap: 1.2rem 1.5rem; align-items: end; margin: .8rem 0;
  grid-template-columns: repeat(auto-fit, minmax(12.5rem, 1fr)); }
figure { margin: 0; text-align: center; }
figure svg { width: 100%; max-width: 19rem; height: auto; }
figcaption { font-size: .85rem; color: #454d54; max-width: 16rem; margin: 0 auto; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 1.4rem; }
th, td { text-align: right; padding: .3rem .5rem; border-bottom: 1px solid #b9c0c6;
  white-space: nowrap; }
th:first-child, td:first-child { text-align: left; }
thead th { border-bottom: 2px solid #1a1a1a; vertical-align: bottom; font-size: .85rem; }
tbody th { font-weight: normal; }
.next { background: #eef5fb; border-left: 5px solid #0072B2; padding: .5rem .9rem;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
@media (max-width: 34rem) {
  table { font-size: .8rem; }
  th, td { padding: .3rem .2rem; white-space: normal; }
  .notes { padding-left: 1.1rem; }
}
@media print {
  body { padding: 0; max-width: none; font-size: 10.5pt; }
  .charts { grid-template-columns: repeat(2, 1fr); }
  section section .charts, .sheet .charts { grid-template-columns: repeat(3, 1fr); }
  figure svg { max-width: 60mm; }
  .notes { margin-top: 1rem; }
  section.player { break-before: page; }
  .sheet section.player { break-before: auto; }
  section.player h2 { border-top: 0; margin-top: 0; padding-top: 0; }
  .wide { overflow-x: visible; }
  figure, table, .next, .notes li { break-inside: avoid; }
  svg { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
@media print and (orientation: landscape) { .charts { grid-template-columns: repeat(4, 1fr); } }
"""

#: No request leaves the page, whatever a name in it may be.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


class Review(msgspec.Struct, frozen=True):
    """A lesson with its figures. ``sheet``: of one player, to be handed out."""

    lesson: Lesson
    players: tuple[PlayerFigures, ...]
    feeds: dict[str, Figures]
    sheet: bool

    @property
    def title(self) -> str:
        """What stands above it."""
        if self.sheet and self.players:
            return f"{words.name_of(self.players[0].player)}: {self.lesson.title}"
        return self.lesson.title

    @property
    def notes(self) -> Sequence[str]:
        """What explains the figures to this reader."""
        return words.SHEET_NOTES if self.sheet else words.NOTES


def review_of(lesson: Lesson, earlier: Sequence[Lesson], *, sheet: bool) -> Review:
    """The figures of a lesson beside those before it."""
    return Review(lesson, player_figures(lesson, earlier), feed_figures(lesson), sheet)


def report_html(review: Review) -> str:
    """The whole page."""
    lesson = review.lesson
    sections = "".join(_section(one, review) for one in review.players)
    notes = "".join(f"<li>{escape(note)}</li>" for note in review.notes)
    notes = f'<ul class="notes">{notes}</ul>'
    if review.sheet:
        body = f"{sections}{notes}"
    else:
        body = f"{_overview(review)}{notes}{sections}{_feed_sections(review)}"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(review.title)}</title><style>{_STYLE}</style></head>"
        f'<body class="{"sheet" if review.sheet else "coach"}">'
        f"<main><h1>{escape(review.title)}</h1>"
        f'<p class="facts">{escape(words.facts(lesson, sheet=review.sheet))}</p>'
        f"{body}</main></body></html>\n"
    )


Table: TypeAlias = tuple[Sequence[str], Sequence[Sequence[str]]]


def player_table(review: Review) -> Table:
    """Heads and rows: everyone beside one another."""
    heads = ("Player", "Balls", "In the target", "Range", "Since last time", "Suggestion")
    rows = [
        (
            words.name_of(one.player),
            str(one.whole.balls),
            words.percent(one.whole.share.value),
            words.span(one.whole.share.interval),
            words.change_cell(one),
            words.step_cell(one.whole),
        )
        for one in review.players
    ]
    return heads, rows


def feed_table(feeds: Mapping[str, Figures], *, sheet: bool) -> Table:
    """Heads and rows: feed by feed, on a sheet without what needs the coach's notes."""
    errors = tuple(error.value.capitalize() for error in ERRORS)
    if sheet:
        heads: Sequence[str] = ("Kind of ball", "Balls", "In", *errors)
        return heads, [_feed_row(*item)[:3] + _counts(item[1]) for item in feeds.items()]
    heads = ("Feed", "Balls", "In", "Range", *errors, "Repeated", "Suggestion")
    return heads, [_feed_row(*item) for item in feeds.items()]


def whole_feed_table(review: Review) -> Table:
    """Heads and rows: feed by feed over everyone; a next step is a matter of one player."""
    heads, rows = feed_table(review.feeds, sheet=False)
    return heads[:-1], [row[:-1] for row in rows]


def _overview(review: Review) -> str:
    feeds = _table(*whole_feed_table(review)) if len(review.players) > 1 else ""
    return _table(*player_table(review)) + feeds


def _section(one: PlayerFigures, review: Review) -> str:
    head = "" if review.sheet else f"<h2>{escape(words.name_of(one.player))}</h2>"
    said = " ".join(words.told(one, sheet=review.sheet))
    lesson = review.lesson
    charts = charts_of(one, lesson.begun_utc_s, lesson.court, sheet=review.sheet)
    feeds = _table(*feed_table(one.by_feed, sheet=review.sheet))
    step = ""
    if one.whole.share.recorded:
        step = f'<p class="next">{escape(words.ADVICE[one.whole.next_step])}</p>'
    return (
        f'<section class="player">{head}<p>{escape(said)}</p>{step}'
        f"{_charts(charts)}{feeds}</section>"
    )


def _feed_sections(review: Review) -> str:
    """Each feed over everyone; with one player it would say the same again."""
    if len(review.players) < 2:
        return ""
    sections = "".join(
        f"<section><h3>{escape(words.feed_name(feed))}</h3>"
        f"<p>{escape(' '.join(words.told_of_feed(numbers)))}</p>"
        f"{_charts(charts_of_feed(numbers, review.lesson.court))}</section>"
        for feed, numbers in review.feeds.items()
    )
    return f'<section class="player"><h2>Feed by feed, everyone</h2>{sections}</section>'


def _charts(charts: Charts) -> str:
    figures = "".join(
        f"<figure>{write(drawn)}<figcaption>{escape(caption)}</figcaption></figure>"
        for _, caption, drawn in charts
    )
    return f'<div class="charts">{figures}</div>' if figures else ""


def _feed_row(feed: str, numbers: Figures) -> tuple[str, ...]:
    return (
        words.feed_name(feed),
        str(numbers.balls),
        words.percent(numbers.share.value),
        words.span(numbers.share.interval),
        *_counts(numbers),
        words.repeated_cell(numbers),
        words.step_cell(numbers),
    )


def _counts(numbers: Figures) -> tuple[str, ...]:
    return tuple(str(numbers.errors[error]) for error in ERRORS)


def _table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """A table whose first column names its rows."""
    head = "".join(f'<th scope="col">{escape(words)}</th>' for words in heads)
    body = "".join(_table_row(*row) for row in rows)
    table = f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
    # On a phone it may scroll sideways; a keyboard must reach it to do so.
    return f'<div class="wide" tabindex="0" role="group" aria-label="table">{table}</div>'


def _table_row(name: str, *cells: str) -> str:
    rest = "".join(f"<td>{escape(cell).replace(' %', '&nbsp;%')}</td>" for cell in cells)
    return f'<tr><th scope="row">{escape(name)}</th>{rest}</tr>'
