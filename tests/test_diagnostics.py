"""A rendered diagnostic shows the line and marks the words, however the line is made."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedscript.cli.pages import PLACES, all_pages, page_of, titles
from feedscript.cli.refresh import as_written
from feedscript.diagnostics import Page, Related, Severity, Span, as_json, in_reading_order, render

PAGE = Page(slug="too-fast", title="Too fast", why="It is.")


def drawn(text: str, column: int, end: int) -> tuple[str, str]:
    """The line as shown, and the words between the marks."""
    report = PAGE.report("too fast", span=Span("a.feed", 1, column, 1, end), help="slower")
    shown = render(report, {"a.feed": text}).split("\n")[2].removeprefix("    ")
    return shown, shown[shown.index("»") + 1 : shown.index("«")]


def test_the_message_the_place_the_words_and_the_fix_are_shown() -> None:
    text = "speed 300 km/h"
    report = PAGE.report(
        "300 km/h is past 120 km/h",
        span=Span("a.feed", 1, 7, 1, 15),
        help="ask for less",
        related=[Related(Span("a.feed", 1, 1, 1, 6), "the limit comes from here")],
    )
    assert render(report, {"a.feed": text}) == (
        "Error: 300 km/h is past 120 km/h\n"
        "  in a.feed, line 1, column 7\n"
        "    speed »300 km/h«\n"
        "  the limit comes from here: a.feed, line 1, column 1\n"
        "    »speed« 300 km/h\n"
        "  fix: ask for less\n"
        "  (too-fast)"
    )


@given(st.text(alphabet="abc \t", min_size=1, max_size=400), st.data())
def test_the_marks_stand_about_the_words_and_no_line_fills_the_screen(
    text: str, data: st.DataObject
) -> None:
    column = data.draw(st.integers(1, len(text)))
    end = data.draw(st.integers(column + 1, min(len(text), column + 30) + 1))
    shown, words = drawn(text, column, end)
    assert len(shown) <= 124
    assert words == text[column - 1 : end - 1]


def test_a_place_that_is_not_there_is_no_trouble() -> None:
    for span in (Span("b.feed", 1, 1, 1, 2), Span("a.feed", 99, 1, 99, 2), None):
        report = PAGE.report("too fast", span=span)
        assert "too fast" in render(report, {"a.feed": "x"})
        assert as_json(report)["slug"] == "too-fast"


def test_those_with_a_place_come_in_the_order_of_reading() -> None:
    spans = [Span("a", 9, 1, 9, 2), None, Span("a", 2, 5, 2, 6), Span("a", 2, 1, 2, 2)]
    ordered = in_reading_order([PAGE.report("x", span=span) for span in spans])
    assert [d.span.line if d.span else None for d in ordered] == [2, 2, 9, None]
    assert ordered[0].severity is Severity.ERROR


def test_where_each_page_stands_is_written_down() -> None:
    """``python -m feedscript.cli.refresh`` writes it anew."""
    assert PLACES.read_text(encoding="utf-8") == as_written()


def test_each_page_is_found_there_and_called_as_it_is_called() -> None:
    pages = all_pages()
    assert titles() == {slug: page.title for slug, page in pages.items()}
    assert {slug: page_of(slug) for slug in pages} == pages
