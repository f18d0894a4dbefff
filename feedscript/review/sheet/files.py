"""Sheet and cards as files."""

from __future__ import annotations

from feedscript.language.program import SuitsDecl
from feedscript.review.drawing.court_view import with_areas_told
from feedscript.review.drawing.drawn_flights import drawn_flights
from feedscript.review.sheet.blocks import sheet_of
from feedscript.review.sheet.cards import cards_html
from feedscript.review.sheet.page import sheet_html
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

#: Every kind of paper, and what writes it.
PAPERS = {"sheet": sheet_html, "cards": cards_html}


def draw_paper(
    facts: PlanFacts,
    suits: SuitsDecl | None,
    kind: str,
    *,
    behind_player: bool = True,
    tongue: Tongue = IN_ENGLISH,
) -> bytes:
    """A lesson as HTML in a language, to be printed; ``kind`` is a key of PAPERS."""
    sheet = sheet_of(with_areas_told(facts.plan, tongue), drawn_flights(facts), suits)
    return PAPERS[kind](sheet, behind_player=behind_player, tongue=tongue).encode()
