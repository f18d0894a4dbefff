"""Sheet and cards as files."""

from __future__ import annotations

from feedscript.review.drawing.drawn_flights import drawn_flights
from feedscript.review.sheet.blocks import sheet_of
from feedscript.review.sheet.page import sheet_html
from feedscript.safety.analysis.plan_facts import PlanFacts


def draw_paper(facts: PlanFacts, kind: str, *, behind_player: bool = True) -> bytes:
    """A lesson as HTML to be printed; ``kind`` is a key of PAPERS."""
    sheet = sheet_of(facts.plan, drawn_flights(facts))
    return PAPERS[kind](sheet, behind_player=behind_player).encode()


#: Every kind of paper, and what writes it.
PAPERS = {"sheet": sheet_html}
