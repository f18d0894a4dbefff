"""A picture as an HTML page that stands alone: nothing is fetched from anywhere."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.feed_table import COLUMNS, rows
from feedscript.review.drawing.svg import Element, document, line, write
from feedscript.review.drawing.timeline import TimeLine, in_order
from feedscript.tongues import terms
from feedscript.tongues.text import _, p_
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

_STYLE = """
body { margin: 2rem auto; max-width: 76rem; padding: 0 1rem; color: #1a1a1a; background: #fff;
       font: 16px/1.45 "DejaVu Sans", Verdana, Helvetica, Arial, sans-serif; }
svg.court { width: 100%; height: auto; }
table { border-collapse: collapse; width: 100%; font-size: 0.85rem; margin-top: 1rem; }
th, td { text-align: right; padding: 0.3rem 0.6rem; border-bottom: 1px solid #b9c0c6; }
th { color: #454d54; font-weight: normal; }
.name { text-align: left; }
h2 { font-size: 1rem; margin: 1.2rem 0 0.3rem; break-after: avoid; }
.wide { overflow-x: auto; }
.line svg { width: 100%; min-width: 1200px; height: auto; }
ol.run { list-style: none; padding: 0; columns: 2; column-gap: 2rem; }
ol.run li { break-inside: avoid; }
@media (max-width: 40rem) { ol.run { columns: 1; } .program svg.court { width: 960px; } }
@media print {
  @page { size: landscape; margin: 10mm; }
  body { margin: 0; max-width: none; padding: 0; font-size: 10pt; }
  .wide { overflow-x: visible; break-inside: avoid; }
  .line svg { min-width: 0; }
  table { break-inside: avoid; }
  .program svg.court { max-height: 185mm; }
}
"""


def page(
    title: str,
    court: Element,
    flights: Sequence[DrawnFlight],
    time: tuple[TimeLine, Element] | None = None,
    tongue: Tongue = IN_ENGLISH,
) -> str:
    """The picture with its figures as a table that screen readers can walk.

    ``time``: the run and its line of time. A phone shows the line at its full size, to be moved
    sideways, and what happens in words.
    """
    heads = "".join(
        f'<th scope="col"{"" if ends else _LEFT}>{escape(tongue(words))}</th>'
        for words, _at, ends in COLUMNS
    )
    body = "\n".join(_row(one, words, tongue) for one, words in rows(flights))
    named, caption = escape(tongue(_("Feeds"))), escape(tongue(_("The feeds in figures")))
    letter = escape(tongue(_("letter")))
    table = f"""<div class="wide" tabindex="0" role="group" aria-label="{named}">
<table>
<caption>{caption}</caption>
<thead><tr><th scope="col"{_LEFT}>{letter}</th>{heads}</tr></thead>
<tbody>
{body}
</tbody>
</table></div>
"""
    line = "" if time is None else _time(*time, tongue)
    return _whole(title, f"{_moved(court, tongue)}{table}{line}", tongue)


def _moved(court: Element, tongue: Tongue) -> str:
    """The court; a phone shows it large enough to be read, to be moved sideways."""
    drawn = write(_classed(court), 0, tongue)
    named = escape(tongue(p_("heading", "Court")))
    return f'<div class="program wide" tabindex="0" role="group" aria-label="{named}">{drawn}</div>'


def _time(run: TimeLine, drawn: Element, tongue: Tongue) -> str:
    rows = "".join(f"<li>{_clock(at_s)} {escape(words)}</li>" for at_s, words in in_order(run))
    head, named = escape(tongue(_("In order"))), escape(tongue(_("Time line")))
    said = f'<h2>{head}</h2><ol class="run">{rows}</ol>' if rows else ""
    return (
        f'<div class="wide line" tabindex="0" role="group" aria-label="{named}">'
        f"{write(drawn, 0, tongue)}</div>{said}"
    )


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"


def plain_page(title: str, drawn: Element) -> str:
    """A picture alone."""
    return _whole(title, write(_classed(drawn)))


def _whole(title: str, body: str, tongue: Tongue = IN_ENGLISH) -> str:
    return f"""<!doctype html>
<html lang="{tongue.language}">
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


def _row(one: DrawnFlight, words: tuple[str, ...], tongue: Tongue) -> str:
    cells = "".join(
        f"<td{'' if ends else _LEFT}>{escape(tongue(cell))}</td>"
        for (_head, _at, ends), cell in zip(COLUMNS, words, strict=True)
    )
    return f'<tr><th scope="row"{_LEFT}>{_key(one, tongue)} {one.style.letter}</th>{cells}</tr>'


def _key(one: DrawnFlight, tongue: Tongue) -> str:
    """The feed's line and mark, small, as it looks in the picture."""
    stroke = line(
        (2, 8), (30, 8), stroke=one.style.colour, stroke_width=2, stroke_dasharray=one.style.dash
    )
    mark, label = one.style.draw_mark((16, 8)), terms.feed(one.wish)
    return write(document(32, 16, [stroke, mark], label=label), 0, tongue).strip()
