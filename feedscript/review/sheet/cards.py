"""An exercise a card: four A6 cards on a page to cut, to keep, and to put together anew."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from feedscript.review.drawing.svg import write
from feedscript.review.report.paper import paper
from feedscript.review.sheet import words
from feedscript.review.sheet.blocks import Block, Sheet
from feedscript.review.sheet.court_picture import SMALL, Upright, court_picture, upright
from feedscript.review.sheet.lines import LETTER_STYLE, fed_list, said_lines
from feedscript.tongues.text import _
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

#: Cards on a page. On A4 each is A6; on letter, which is wider and lower, a quarter of the page.
ON_A_PAGE = 4

STYLE = """
@page { margin: 0; }
* { box-sizing: border-box; }
body { font: 10pt/1.22 "DejaVu Sans Condensed", Arial, Helvetica, sans-serif; color: #111;
  background: #fff; margin: 0; }
h1 { position: absolute; clip-path: inset(50%); width: 1px; height: 1px; overflow: hidden; }
h2 { font-size: 13pt; line-height: 1.15; margin: 0; }
p, ul { margin: 0; }
h2, p, li { overflow-wrap: anywhere; }
.page { position: relative; width: 210mm; display: grid; grid-template-columns: 1fr 1fr;
  grid-template-rows: repeat(2, minmax(148mm, auto)); margin: 0 auto; break-after: page; }
.page:last-child { break-after: auto; }
.card { padding: 8mm; display: flex; flex-direction: column; gap: 1.2mm; break-inside: avoid; }
.facts { font-weight: bold; }
.card .both { display: flex; gap: 3mm; flex: 1; }
.both svg { flex: none; height: 74mm; width: auto; max-width: 50%; }
.both > div { flex: 1; min-width: 0; display: flex; flex-direction: column; gap: 1.6mm; }
.both ul { list-style: none; padding: 0; }
.both li { padding-left: 1.8em; text-indent: -1.8em; margin-bottom: 1mm; }
.card footer { font-size: 8.5pt; border-top: .5pt solid #888; padding-top: 1mm; }
.crop { position: absolute; border: 0 solid #555; border-left-width: .5pt; height: 6mm; left: 50%; }
.top { top: 0; }
.bottom { bottom: 0; }
.middle { top: calc(50% - 3mm); }
.left, .right, .across { border-width: .5pt 0 0; height: 0; width: 6mm; top: 50%; }
.left { left: 0; }
.right { left: auto; right: 0; }
.across { left: calc(50% - 3mm); }
svg { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
@media screen and (max-width: 42rem) {
  .page { width: auto; grid-template-columns: minmax(0, 1fr); grid-template-rows: none; }
  .crop { display: none; }
  .card { border-bottom: .5pt solid #888; }
}
@media print and (max-height: 290mm) {
  .page { width: 215.9mm; grid-template-rows: repeat(2, minmax(139.6mm, auto)); }
}
"""


def cards_html(sheet: Sheet, *, behind_player: bool, tongue: Tongue = IN_ENGLISH) -> str:
    """All cards of a lesson, page by page."""
    frame = upright(sheet.plan, sheet.flights, behind_player=behind_player, metre=SMALL)
    cards = [_card(sheet, block, frame, tongue) for block in sheet.blocks]
    pages = [cards[first : first + ON_A_PAGE] for first in range(0, len(cards), ON_A_PAGE)]
    title = sheet.plan.title or _("Untitled lesson")
    body = "".join(map(_page, pages))
    return paper(title, "", body, "cards", tongue, style=STYLE + LETTER_STYLE)


def _page(cards: Sequence[str]) -> str:
    return f'<div class="page">{"".join(cards)}{_crop_marks()}</div>'


def _crop_marks() -> str:
    """Where to cut: short lines at the edges of the page, and a cross in its middle."""
    places = ("top", "bottom", "left", "right", "middle", "middle across")
    return "".join(f'<span class="crop {place}"></span>' for place in places)


def _card(sheet: Sheet, block: Block, frame: Upright, tongue: Tongue) -> str:
    alone = len(sheet.blocks) == 1
    beside = words.heads(block, whole=False)
    below = words.heads(block, whole=True)[len(beside) :]
    below += [(_("On"), words.order(sheet.plan, block.turns)), *words.steps(block)]
    below += words.works(block)
    last = [(_("Load"), words.card_load(block)), (_("Bring"), ", ".join(sheet.suits.needs))]
    last.append((_("For"), words.suited(sheet)))
    title = tongue(words.block_title(block, alone=alone))
    fed = fed_list(sheet.plan, block, tongue)
    picture = write(court_picture(sheet.plan, block, frame), 0, tongue)
    return (
        f'<section class="card"><h2>{escape(title)}</h2>'
        f'<p class="facts">{escape(tongue(words.timing(block)))}</p>'
        f'<div class="both">{picture}<div>{fed}{said_lines(beside, tongue)}</div>'
        f"</div>{said_lines(below, tongue)}<footer>{said_lines(last, tongue)}"
        f"<p>{escape(sheet.plan.title)}</p></footer>"
        "</section>"
    )
