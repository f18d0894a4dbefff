"""One page for the fence: everything of a lesson that is looked up from the court.

It fills a sheet of A4 or US letter, whichever is in the printer; a lesson that does not fit goes on
to a second page. No words are smaller than eleven points: capitals of 2.8 mm, which at 60 cm are a
quarter of a degree high (ISO 9241-303 asks for 16 minutes of arc; figure from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from feedscript.review.drawing.svg import write
from feedscript.review.report.paper import paper
from feedscript.review.sheet import words
from feedscript.review.sheet.blocks import Block, Rounds, Sheet
from feedscript.review.sheet.court_picture import LARGE, SMALL, Upright, court_picture, upright
from feedscript.review.sheet.lines import LETTER_STYLE, fed_list

STYLE = """
@page { margin: 8mm; }
* { box-sizing: border-box; }
body { font: 11pt/1.22 "DejaVu Sans Condensed", Arial, Helvetica, sans-serif; color: #111;
  background: #fff; margin: 0 auto; max-width: 200mm; padding: 4mm; }
h1, h2, p, ul, ol, table { margin: 0; }
h1 { font-size: 18pt; line-height: 1.15; }
h2 { font-size: 13pt; line-height: 1.15; }
h1, h2, p, li, td, th { overflow-wrap: anywhere; }
.facts { font-weight: bold; }
.group { border-bottom: 1.5pt solid #111; padding-bottom: 1mm; }
.blocks { display: grid; grid-template-columns: 1fr 1fr; gap: 2mm 4mm; margin: 2mm 0; }
.few .blocks { grid-template-columns: 1fr; }
.block { display: flex; gap: 2.5mm; break-inside: avoid; border-bottom: .5pt solid #888;
  padding-bottom: 1.5mm; }
.block > div { flex: 1; min-width: 0; }
.block svg { flex: none; height: var(--high); width: auto; align-self: flex-start; }
.block ul { list-style: none; padding: 0; }
.block li { padding-left: 1.8em; text-indent: -1.8em; }
.few .block, .few .foot { font-size: 13pt; }
.few h2 { font-size: 15pt; }
.few .block p, .few .block li { margin-bottom: 1mm; }
.block ol { padding-left: 1.4em; }
.block ol li { padding: 0; text-indent: 0; }
.then { font-style: italic; }
.foot { display: grid; grid-template-columns: auto 1fr; gap: 1mm 6mm; break-inside: avoid; }
.foot h2 { grid-column: 1; }
.foot > :not(h2) { grid-column: 2; }
table { border-collapse: collapse; }
th, td { text-align: left; padding: .2mm 4mm .2mm 0; vertical-align: top; }
th { white-space: nowrap; }
ul.list { padding-left: 1.1em; }
svg { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
@media screen and (max-width: 42rem) {
  .blocks, .few .blocks, .foot { grid-template-columns: minmax(0, 1fr); }
  .foot > :not(h2) { grid-column: 1; }
  th { white-space: normal; }
  th, td { padding-right: 2mm; }
  .block svg { max-width: 40%; height: auto; align-self: flex-start; }
}
@media print { body { padding: 0; max-width: none; } }
"""

#: How high a court is on paper: where there are many exercises, as high as three rows allow.
_HIGH_MM = {1: 130, 2: 84, 3: 80, 4: 80}
_LOWEST_MM = 56
#: With rounds of stations below there is less room.
_BESIDE_ROUNDS_MM = {1: 120, 2: 72, 3: 62, 4: 60}
#: How wide it may be: beside the words, in one column or in two.
_WIDE_MM, _WIDE_OF_TWO_MM = 84, 38
#: Up to so many exercises there is room for how to change them, with rounds of stations up to one
#: less; the cards always have it.
_ROOMY = 4
#: So many exercises stand one below the other.
_FEW = 2


def sheet_html(sheet: Sheet, *, behind_player: bool) -> str:
    """The whole page."""
    plan = sheet.plan
    count = len(sheet.blocks)
    few = count <= _FEW
    metre = LARGE if few else SMALL
    frame = upright(plan, sheet.flights, behind_player=behind_player, metre=metre)
    blocks = "".join(_block(sheet, block, frame) for block in sheet.blocks)
    high = _high_mm(sheet, frame, few=few)
    body = (
        f'<p class="group">{escape(words.group(plan))}</p>'
        f'<div class="blocks" style="--high: {high:.1f}mm">{blocks}</div>'
        f'<div class="foot">{_foot(sheet)}</div>'
    )
    kind = "fence few" if few else "fence"
    facts = words.facts(plan, sheet.hour.whole_s)
    return paper(plan.title or "Untitled lesson", facts, body, kind, style=STYLE + LETTER_STYLE)


def _high_mm(sheet: Sheet, frame: Upright, *, few: bool) -> float:
    """How high the courts are drawn: by their number, and no wider than there is room."""
    highs = _BESIDE_ROUNDS_MM if any(one.rounds for one in sheet.blocks) else _HIGH_MM
    high = highs.get(len(sheet.blocks), _LOWEST_MM)
    widest = _WIDE_MM if few else _WIDE_OF_TWO_MM
    return min(high, widest * frame.height / frame.width)


def _block(sheet: Sheet, block: Block, frame: Upright) -> str:
    number = f"{block.number}. " if block.number else ""
    title = words.block_title(block, alone=len(sheet.blocks) == 1)
    picture = write(court_picture(sheet.plan, block, frame))
    return (
        f'<section class="block">{picture}<div><h2>{number}{escape(title)}</h2>'
        f'<p class="facts">{escape(words.timing(block))}</p>'
        f"{_said(sheet, block)}{fed_list(sheet.plan, block)}{_calls(sheet, block)}{_then(block)}"
        "</div></section>"
    )


def _calls(sheet: Sheet, block: Block) -> str:
    """What will be called, one after the other, where there is room for it."""
    if len(sheet.blocks) > _FEW or not block.said:
        return ""
    rows = "".join(f"<li>{escape(words)}</li>" for words in block.said)
    return f'<p><b>Calls:</b></p><ol class="calls">{rows}</ol>'


def _said(sheet: Sheet, block: Block) -> str:
    """Aim, what to watch for, and who is on where that is not everybody."""
    whole = len(sheet.blocks) + any(one.rounds for one in sheet.blocks) <= _ROOMY
    lines = [*words.heads(block, whole=whole), ("On", words.order(sheet.plan, block.turns))]
    lines += [*words.steps(block), *words.works(block)]
    return "".join(f"<p><b>{escape(head)}:</b> {escape(said)}</p>" for head, said in lines if said)


def _then(block: Block) -> str:
    said = words.followed(block.then)
    return f'<p class="then">{escape(said)}</p>' if said else ""


def _foot(sheet: Sheet) -> str:
    """Balls, who is where round by round, and cautions."""
    load = "<br>".join(escape(line) for line in words.load(sheet.plan))
    needs = escape(", ".join(sheet.suits.needs))
    bring = f"<h2>Bring</h2><p>{needs}</p>" if needs else ""
    tables = "".join(
        f"<h2>{escape(head)}</h2>{_rounds(sheet, rounds)}" for head, rounds in _tables(sheet)
    )
    cautions = "".join(f"<li>{escape(line)}</li>" for line in words.cautions(sheet))
    return f'<h2>Load</h2><p>{load}</p>{bring}{tables}<h2>Mind</h2><ul class="list">{cautions}</ul>'


def _tables(sheet: Sheet) -> Iterator[tuple[str, Rounds]]:
    """Who is where, each table once: under its head stand the exercises that have it."""
    found: list[tuple[Rounds, list[str]]] = []
    for block in sheet.blocks:
        for rounds in block.rounds:
            same = next((numbers for one, numbers in found if _alike(one, rounds)), None)
            if same is None:
                found.append((rounds, same := []))
            same.append(f"{block.number}" if block.number else "")
    for rounds, numbers in found:
        named = ", ".join(dict.fromkeys(filter(None, numbers))) if len(sheet.blocks) > 1 else ""
        yield f"Where, {named}" if named else "Where", rounds


def _alike(one: Rounds, other: Rounds) -> bool:
    same = one.stations == other.stations and one.lasts_s == other.lasts_s
    return same and one.players == other.players


def _rounds(sheet: Sheet, rounds: Rounds) -> str:
    """Who is at which station; a row a round."""
    heads = "".join(f'<th scope="col">{escape(name)}</th>' for name in rounds.stations)
    rows = "".join(
        f'<tr><th scope="row">{escape(name)}</th>'
        + "".join(f"<td>{escape(words.names(sheet.plan, there) or '–')}</td>" for there in row)
        + "</tr>"
        for name, row in zip(words.round_names(rounds), rounds.players, strict=True)
    )
    return f"<table><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>"
