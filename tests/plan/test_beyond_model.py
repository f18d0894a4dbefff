"""A feed that nobody measured the like of says so, once, at its words, and passes all the same.

Source of the range: Stepanek, "The aerodynamics of tennis balls: the topspin lob", American Journal
of Physics 56 (1988), fitted over 13.6 to 28 m/s and 800 to 3,250 rpm (the range from memory).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.diagnostics import Diagnostic, Severity
from feedscript.flight.published_range import BEYOND_MODEL

PROGRAM = """feedscript 1
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
balls {{ load 60 }}
feed first {{ land 3 m inside baseline, on centre line  speed {speed}  {spin} }}
lesson {{ show speed of first  send first after 5 s }}
"""


def warnings(speed: str, spin: str) -> list[Diagnostic]:
    verdict = check_program(Path("p.feed"), text=PROGRAM.format(speed=speed, spin=spin))
    assert verdict.ok, verdict.diagnostics
    return [one for one in verdict.diagnostics if one.slug == "beyond-model"]


def test_a_feed_inside_the_range_is_not_spoken_of() -> None:
    assert warnings("90 km/h", "spin top 1000 rpm") == []


@pytest.mark.parametrize(
    ("speed", "spin", "words"),
    [
        ("80 km/h", "", "0 rpm is outside the 800 to 3250 rpm"),
        ("80 km/h", "spin top 790 rpm", "790 rpm"),
        ("80 km/h", "spin top 799.7 rpm", "799.7 rpm is outside the 800 to"),
        ("29 m/s", "spin top 2000 rpm", "29.0 m/s is outside the 13.6 to 28 m/s"),
    ],
)
def test_a_feed_outside_the_range_is_warned_of_where_it_is_defined(
    speed: str, spin: str, words: str
) -> None:
    (warning,) = warnings(speed, spin)
    assert warning.severity is Severity.WARNING
    assert words in warning.message
    assert "wind-tunnel" in warning.message
    assert warning.span is not None
    assert warning.span.line == 4


def test_variants_of_one_definition_are_warned_of_once() -> None:
    assert len(warnings("80 km/h", "vary speed 2 km/h")) == 1


def test_feeds_of_one_program_share_a_warning_that_names_them() -> None:
    feeds = " ".join(
        f"feed f{n} {{ land 3 m inside baseline, on centre line  speed 80 km/h"
        f"  spin top {n}0 rpm }}"
        for n in range(1, 6)
    )
    sends = "show speed of f1 " + " ".join(f"send f{n} after 9 s" for n in range(1, 6))
    text = f"feedscript 1 {feeds} lesson {{ {sends} }}"
    found = check_program(Path("p.feed"), text=text).diagnostics
    (warning,) = (one for one in found if one.slug == "beyond-model")
    assert "f1, f2, f3 and 2 more: 10 to 50 rpm is outside the 800 to" in warning.message


def test_a_feed_outside_in_both_is_warned_of_once_with_both_words() -> None:
    (warning,) = warnings("29 m/s", "spin top 500 rpm")
    assert "29.0 m/s" in warning.message
    assert "500 rpm" in warning.message
    assert "trust the landing less" in warning.help
    (other,) = warning.related
    assert other.span != warning.span


def test_the_examples_of_its_page_are_true() -> None:
    for text, count in ((BEYOND_MODEL.wrong, 1), (BEYOND_MODEL.corrected, 0)):
        found = check_program(Path("p.feed"), text=text).diagnostics
        assert [one.slug for one in found].count("beyond-model") == count
