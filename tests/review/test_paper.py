"""Words on paper stay inside the margins, and what does not fit begins a new page."""

from __future__ import annotations

import io

from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from feedscript.review.report.paper import Paper, _width_mm, wrapped

words = st.text(st.characters(codec="latin-1", categories=["L", "N", "P"]), max_size=60)


@given(st.lists(words, max_size=12), st.floats(20.0, 180.0))
@settings(max_examples=40)
def test_no_line_is_wider_than_the_paper_and_no_letter_is_lost(
    texts: list[str], width_mm: float
) -> None:
    lines = wrapped(" ".join(texts), 10.0, width_mm, bold=False)
    assert "".join(lines).replace(" ", "") == "".join("".join(texts).split())
    assert all(_width_mm(line, 10.0, bold=False) <= width_mm for line in lines)


def test_what_does_not_fit_begins_a_new_page() -> None:
    paper = Paper()
    paper.table(("Feed", "Balls"), [(f"feed {n}", str(n)) for n in range(60)])
    pages = PdfReader(io.BytesIO(paper.as_pdf("Long"))).pages
    found = [page.extract_text() for page in pages]
    assert len(found) == 2
    assert "feed 0" in found[0]
    assert "feed 59" in found[1]


def test_the_same_pages_are_the_same_bytes() -> None:
    def made() -> bytes:
        paper = Paper()
        paper.paragraph("A lesson")
        return paper.as_pdf("A lesson")

    assert made() == made()
