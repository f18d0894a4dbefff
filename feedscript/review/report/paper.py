"""The paper that reports are written on: one HTML page that stands alone, prints, and fits a phone.

Nothing is fetched and nothing runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import TypeAlias

from feedscript.review.drawing.svg import write
from feedscript.review.report.charts import Charts
from feedscript.tongues.text import _
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

_STYLE = """
@page { size: A4; margin: 14mm 16mm; }
* { box-sizing: border-box; }
body { font: 16px/1.5 "DejaVu Sans", Verdana, Helvetica, Arial, sans-serif; color: #1a1a1a;
  background: #fff; margin: 0 auto; max-width: 60rem; padding: 1.2rem; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: 0 0 .2rem; }
h2 { font-size: 1.3rem; margin: 2rem 0 .3rem; padding-top: 1rem; border-top: 2px solid #1a1a1a; }
h3 { font-size: 1.1rem; margin: 1.4rem 0 .2rem; }
p { margin: .4rem 0; }
h1, h2, h3, p, li { overflow-wrap: anywhere; }
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
.line .charts { grid-template-columns: minmax(30rem, 1fr); }
.line figure svg { max-width: 46rem; }
.line figcaption { max-width: none; text-align: left; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 1.4rem; }
th, td { text-align: right; padding: .3rem .5rem; border-bottom: 1px solid #b9c0c6;
  white-space: nowrap; }
th:first-child, td:first-child { text-align: left; }
thead th { border-bottom: 2px solid #1a1a1a; vertical-align: bottom; font-size: .85rem; }
tbody th { font-weight: normal; }
.next { background: #eef5fb; border-left: 5px solid #0072B2; padding: .5rem .9rem;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
@media (max-width: 34rem) {
  thead { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
  table, tbody, tr, tbody th { display: block; }
  tr { border-bottom: 1px solid #b9c0c6; padding: .4rem 0; }
  tbody th { border: 0; padding: 0; white-space: normal; overflow-wrap: anywhere; }
  td { display: inline-block; border: 0; padding: 0 .9rem 0 0; white-space: normal;
    text-align: left; font-size: .9rem; }
  td::before { content: attr(data-head) ": "; color: #454d54; }
  .weeks { overflow-x: auto; }
  .weeks svg { width: 30rem; max-width: none; }
  .notes { padding-left: 1.1rem; }
}
@media screen and (prefers-color-scheme: dark) {  /* read on a phone in the evening */
  .family { color-scheme: dark; background: #14181c; color: #edf1f3; }
  .family h2 { border-top-color: #8b969e; }
  .family :is(.facts, .notes, figcaption) { color: #b3bdc4; }
  .family .next { background: #16314a; border-left-color: #58b0ea; }
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
  .line .charts { grid-template-columns: 1fr; }
  .line figure svg { max-width: 150mm; }
  figure, table, .next, .notes li { break-inside: avoid; }
  svg { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
@media print and (orientation: landscape) { .charts { grid-template-columns: repeat(4, 1fr); } }
"""

#: No request leaves the page, whatever a name in it may be.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


Table: TypeAlias = tuple[Sequence[str], Sequence[Sequence[str]]]


def paper(
    title: str,
    facts: str,
    body: str,
    kind: str,
    tongue: Tongue = IN_ENGLISH,
    *,
    style: str = _STYLE,
) -> str:
    """The whole page: its title, the line under it (if any), and its body, which is HTML.

    ``kind`` is the class by which the style sheet knows the page: coach, sheet, family, fence or
    cards.
    """
    under = f'<p class="facts">{escape(tongue(facts))}</p>' if facts else ""
    return (
        f'<!doctype html>\n<html lang="{tongue.language}"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(tongue(title))}</title><style>{style}</style></head>"
        f'<body class="{kind}">'
        f"<main><h1>{escape(tongue(title))}</h1>"
        f"{under}{body}</main></body></html>\n"
    )


def notes_list(notes: Iterable[str], tongue: Tongue = IN_ENGLISH) -> str:
    """What explains the figures, as a list at the foot."""
    items = "".join(f"<li>{escape(tongue(note))}</li>" for note in notes)
    return f'<ul class="notes">{items}</ul>'


def drawn(charts: Charts, tongue: Tongue = IN_ENGLISH) -> str:
    """Charts beside one another, each with its caption."""
    figures = "".join(
        f"{_figure(kind)}{write(chart, 0, tongue)}"
        f"<figcaption>{escape(tongue(caption))}</figcaption></figure>"
        for kind, caption, chart in charts
    )
    return f'<div class="charts">{figures}</div>' if figures else ""


def _figure(kind: str) -> str:
    """The lessons of many weeks may scroll sideways on a phone."""
    return '<figure class="weeks" tabindex="0">' if kind == "weeks" else "<figure>"


def prose(words: str, tongue: Tongue = IN_ENGLISH) -> str:
    """Words as HTML; a number stays on the line of its per cent sign."""
    return escape(tongue(words)).replace(" %", "&nbsp;%")


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], tongue: Tongue = IN_ENGLISH) -> str:
    """A table whose first column names its rows.

    On a phone each row is a small block in which every cell has its head before it; the roles say
    what that takes from a browser's own idea of a table.
    """
    head = "".join(
        f'<th scope="col" role="columnheader">{escape(tongue(words))}</th>' for words in heads
    )
    body = "".join(_table_row(heads, row, tongue) for row in rows)
    whole = (
        f'<table role="table"><thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{body}</tbody></table>'
    )
    return scrolled(whole, tongue(_("table")))


def scrolled(body: str, label: str, kind: str = "") -> str:
    """What may scroll sideways on a phone; a keyboard must reach it to do so."""
    classes = f"wide {kind}".strip()
    named = f'role="group" aria-label="{escape(label)}"'
    return f'<div class="{classes}" tabindex="0" {named}>{body}</div>'


def _table_row(heads: Sequence[str], row: Sequence[str], tongue: Tongue) -> str:
    cells = "".join(
        f'<td role="cell" data-head="{escape(tongue(head))}">{prose(cell, tongue)}</td>'
        for head, cell in zip(heads[1:], row[1:], strict=True)
    )
    return (
        f'<tr role="row"><th scope="row" role="rowheader">{escape(tongue(row[0]))}</th>{cells}</tr>'
    )
