"""A picture as an HTML page that stands alone: nothing is fetched from anywhere."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.feed_table import COLUMNS, rows
from feedscript.review.drawing.svg import Element, document, line, write

_STYLE = """
body { margin: 2rem auto; max-width: 76rem; padding: 0 1rem; color: #1a1a1a; background: #fff;
       font: 16px/1.45 "DejaVu Sans", Verdana, Helvetica, Arial, sans-serif; }
svg.court { width: 100%; height: auto; }
table { border-collapse: collapse; width: 100%; font-size: 0.85rem; margin-top: 1rem; }
th, td { text-align: right; padding: 0.3rem 0.6rem; border-bottom: 1px solid #b9c0c6; }
th { color: #454d54; font-weight: normal; }
.name { text-align: left; }
@media print { body { margin: 0; } }
"""


def page(title: str, court: Element, flights: Sequence[DrawnFlight]) -> str:
    """The picture with its figures as a table that screen readers can walk."""
    heads = "".join(
        f'<th scope="col"{"" if ends else _LEFT}>{escape(words)}</th>' for words, _, ends in COLUMNS
    )
    body = "\n".join(_row(one, words) for one, words in rows(flights))
    table = f"""<table>
<caption>The feeds in figures</caption>
<thead><tr><th scope="col"{_LEFT}>letter</th>{heads}</tr></thead>
<tbody>
{body}
</tbody>
</table>
"""
    return _whole(title, write(_classed(court)) + table)


def plain_page(title: str, drawn: Element) -> str:
    """A picture alone."""
    return _whole(title, write(_classed(drawn)))


def _whole(title: str, body: str) -> str:
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>{escape(title)}</title>
<style>{_STYLE}</style>
</head>
<body>
{body}</body>
</html>
"""


_LEFT = ' class="name"'


def _classed(court: Element) -> Element:
    return Element(court.name, (*court.attributes, ("class", "court")), court.inside)


def _row(one: DrawnFlight, words: tuple[str, ...]) -> str:
    cells = "".join(
        f"<td{'' if ends else _LEFT}>{escape(cell)}</td>"
        for (_, _, ends), cell in zip(COLUMNS, words, strict=True)
    )
    return f'<tr><th scope="row"{_LEFT}>{_key(one)} {one.style.letter}</th>{cells}</tr>'


def _key(one: DrawnFlight) -> str:
    """The feed's line and mark, small, as it looks in the picture."""
    stroke = line(
        (2, 8), (30, 8), stroke=one.style.colour, stroke_width=2, stroke_dasharray=one.style.dash
    )
    return write(document(32, 16, [stroke, one.style.draw_mark((16, 8))], label=one.wish)).strip()
