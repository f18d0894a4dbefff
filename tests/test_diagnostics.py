"""A rendered diagnostic shows the line and underlines the words, however the line is made."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedscript.diagnostics import Page, Related, Severity, Span, as_json, in_reading_order, render

PAGE = Page(slug="too-fast", title="Too fast", why="It is.")


def drawn(text: str, column: int, end: int) -> tuple[str, str]:
    """The line as shown, and the words that stand over the marks."""
    report = PAGE.report("too fast", span=Span("a.feed", 1, column, 1, end), help="slower")
    lines = render(report, {"a.feed": text}).split("\n")
    shown, marks = lines[2].split("| ", 1)[1], lines[3].split("| ", 1)[1]
    start = marks.index("^")
    return shown, shown[start : start + marks.count("^")]


def test_the_message_the_place_the_words_and_the_mend_are_shown() -> None:
    text = "speed 300 km/h"
    report = PAGE.report(
        "300 km/h is past 120 km/h",
        span=Span("a.feed", 1, 7, 1, 15),
        help="ask for less",
        related=[Related(Span("a.feed", 1, 1, 1, 6), "the limit comes from here")],
    )
    assert render(report, {"a.feed": text}) == (
        "error[too-fast]: 300 km/h is past 120 km/h\n"
        "  at a.feed:1:7\n"
        " 1 | speed 300 km/h\n"
        "   |       ^^^^^^^^\n"
        "  see a.feed:1:1: the limit comes from here\n"
        " 1 | speed 300 km/h\n"
        "   | -----\n"
        "  mend: ask for less"
    )


@given(st.text(alphabet="abc \t", min_size=1, max_size=400), st.data())
def test_the_marks_stand_under_the_words_and_no_line_fills_the_screen(
    text: str, data: st.DataObject
) -> None:
    column = data.draw(st.integers(1, len(text)))
    end = data.draw(st.integers(column + 1, min(len(text), column + 30) + 1))
    shown, words = drawn(text, column, end)
    assert len(shown) <= 122
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
