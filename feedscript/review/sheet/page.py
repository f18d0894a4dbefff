"""One page for the fence: everything of a lesson that is looked up from the court.

It fills a sheet of A4 or US letter, whichever is in the printer; a lesson that does not fit goes on
to a second page. No words are smaller than eleven points: capitals of 2.8 mm, which at 60 cm are a
quarter of a degree high (ISO 9241-303 asks for 16 minutes of arc; figure from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

from feedscript.plan.model import Collect
from feedscript.review.drawing.svg import write
from feedscript.review.report.paper import paper
from feedscript.review.sheet import words
from feedscript.review.sheet.blocks import Block, Rounds, Sheet
from feedscript.review.sheet.court_picture import LARGE, SMALL, Upright, court_picture, upright
from feedscript.review.sheet.lines import LETTER_STYLE, fed_list, said_lines
from feedscript.tongues.text import _
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

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


def sheet_html(sheet: Sheet, *, behind_player: bool, tongue: Tongue = IN_ENGLISH) -> str:
    """The whole page."""
    plan = sheet.plan
    count = len(sheet.blocks)
    few = count <= _FEW
    metre = LARGE if few else SMALL
    frame = upright(plan, sheet.flights, behind_player=behind_player, metre=metre)
    blocks = "".join(_block(sheet, block, frame, tongue) for block in sheet.blocks)
    high = _high_mm(sheet, frame, few=few)
    body = (
        f'<p class="group">{escape(tongue(words.group(plan)))}</p>'
        f'<div class="blocks" style="--high: {high:.1f}mm">{blocks}</div>'
        f'<div class="foot">{_foot(sheet, tongue)}</div>'
    )
    kind = "fence few" if few else "fence"
    facts = words.facts(plan, sheet.hour.whole_s)
    title = plan.title or _("Untitled lesson")
    return paper(title, facts, body, kind, tongue, style=STYLE + LETTER_STYLE)


def _high_mm(sheet: Sheet, frame: Upright, *, few: bool) -> float:
    """How high the courts are drawn: by their number, and no wider than there is room."""
    highs = _BESIDE_ROUNDS_MM if any(one.rounds for one in sheet.blocks) else _HIGH_MM
    high = highs.get(len(sheet.blocks), _LOWEST_MM)
    widest = _WIDE_MM if few else _WIDE_OF_TWO_MM
    return min(high, widest * frame.height / frame.width)


def _block(sheet: Sheet, block: Block, frame: Upright, tongue: Tongue) -> str:
    number = f"{block.number}. " if block.number else ""
    title = tongue(words.block_title(block, alone=len(sheet.blocks) == 1))
    picture = write(court_picture(sheet.plan, block, frame), 0, tongue)
    return (
        f'<section class="block">{picture}<div><h2>{number}{escape(title)}</h2>'
        f'<p class="facts">{escape(tongue(words.timing(block)))}</p>'
        f"{_said(sheet, block, tongue)}{fed_list(sheet.plan, block, tongue)}"
        f"{_calls(sheet, block, tongue)}{_then(block, tongue)}</div></section>"
    )


def _calls(sheet: Sheet, block: Block, tongue: Tongue) -> str:
    """What will be called, one after the other, where there is room for it."""
    if len(sheet.blocks) > _FEW or not block.said:
        return ""
    rows = "".join(f"<li>{escape(words)}</li>" for words in block.said)
    head = escape(tongue(_("Calls:")))
    return f'<p><b>{head}</b></p><ol class="calls">{rows}</ol>'


def _said(sheet: Sheet, block: Block, tongue: Tongue) -> str:
    """Aim, what to watch for, and who is on where that is not everybody."""
    whole = len(sheet.blocks) + any(one.rounds for one in sheet.blocks) <= _ROOMY
    lines = [*words.heads(block, whole=whole), (_("On"), words.order(sheet.plan, block.turns))]
    lines += [*words.steps(block), *words.works(block)]
    return said_lines(lines, tongue)


def _then(block: Block, tongue: Tongue) -> str:
    said = tongue(words.followed(block.then))
    return f'<p class="then">{escape(said)}</p>' if said else ""


def _foot(sheet: Sheet, tongue: Tongue) -> str:
    """Balls, who is where round by round, and cautions."""

    def head(words: str) -> str:
        return f"<h2>{escape(tongue(words))}</h2>"

    load = "<br>".join(escape(tongue(line)) for line in words.load(sheet.plan))
    needs = escape(", ".join(sheet.suits.needs))
    bring = f"{head(_BRING)}<p>{needs}</p>" if needs else ""
    tables = "".join(
        f"{head(whose)}{_rounds(sheet, rounds, tongue)}" for whose, rounds in _tables(sheet)
    )
    cautions = "".join(f"<li>{escape(tongue(line))}</li>" for line in words.cautions(sheet))
    return f'{head(_LOAD)}<p>{load}</p>{bring}{tables}{head(_MIND)}<ul class="list">{cautions}</ul>'


_LOAD, _BRING, _MIND = _("Load"), _("Bring"), _("Mind")


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
        yield _("Where, {exercises}", exercises=named) if named else _("Where"), rounds


def _alike(one: Rounds, other: Rounds) -> bool:
    same = one.stations == other.stations and one.lasts_s == other.lasts_s
    between = [[words.between_rounds(after) for after in each.after] for each in (one, other)]
    return same and one.players == other.players and between[0] == between[1]


def _rounds(sheet: Sheet, rounds: Rounds, tongue: Tongue) -> str:
    """Who is at which station; a row a round, and one where balls are collected between two."""
    heads = "".join(f'<th scope="col">{escape(name)}</th>' for name in rounds.stations)
    rows = "".join(
        f'<tr><th scope="row">{escape(tongue(name))}</th>'
        + "".join(f"<td>{escape(words.names(sheet.plan, there) or '–')}</td>" for there in row)
        + f"</tr>{_between(rounds, after, tongue)}"
        for name, row, after in zip(
            words.round_names(rounds), rounds.players, rounds.after, strict=True
        )
    )
    return f"<table><thead><tr><td></td>{heads}</tr></thead><tbody>{rows}</tbody></table>"


def _between(rounds: Rounds, after: Sequence[Collect], tongue: Tongue) -> str:
    """What everybody does before the next round."""
    said = escape(tongue(words.between_rounds(after)))
    wide = 1 + len(rounds.stations)
    return f'<tr class="then"><td colspan="{wide}">{said}</td></tr>' if said else ""
