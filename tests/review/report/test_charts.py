"""A result looks the same in a chart as on the button that recorded it."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from feedscript.court.lines import COURTS
from feedscript.plan.model import Result
from feedscript.review.drawing.palette import PAPER
from feedscript.review.drawing.svg import write
from feedscript.review.report.charts import error_rose, landings
from feedscript.review.report.figures import figures
from feedscript.review.report.lesson import ERRORS, Ball
from feedscript.session.operator.commands import RecordResult
from feedscript.session.operator.controls import Situation, controls_in
from feedscript.session.operator.phases import Phase

#: As a screen gets them while the lesson runs.
BUTTONS = {
    control.command.result: control.colour
    for control in controls_in(Situation(phase=Phase.RUNNING))
    if isinstance(control.command, RecordResult)
}


def colours(drawn: str) -> set[str]:
    return set(re.findall(r"#[0-9a-fA-F]{6}", drawn)) & set(BUTTONS.values())


def luminance(colour: str) -> float:
    """WCAG 2.2, "relative luminance"."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("result", Result)
def test_a_landing_has_the_colour_of_its_results_button(result: Result) -> None:
    ball = replace(Ball(1, "deep", "Ash", 0.0, result), landing_m=(1.0, -8.0))
    drawn = write(landings(figures([ball]), COURTS["singles"]))
    assert colours(drawn) == {BUTTONS[result]}


def test_the_bars_of_errors_have_the_colours_of_their_buttons() -> None:
    drawn = write(error_rose(2, dict.fromkeys(ERRORS, 1)))
    assert colours(drawn) == {BUTTONS[result] for result in (Result.IN, *ERRORS)}


def test_words_on_a_button_or_a_chart_can_be_read() -> None:
    """WCAG 2.2, success criterion 1.4.3: 4.5 to 1."""
    for colour in BUTTONS.values():
        assert (luminance(PAPER) + 0.05) / (luminance(colour) + 0.05) >= 4.5
