"""Every unit and every second spelling that the language takes stands on its page.

What it takes is tried on the language itself, word by word, from its grammar's own pattern.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from feedscript.court.landmarks import plain_words
from feedscript.language.tools.parser_tables import grammar_text
from feedscript.units import Dimension, UnitError, parse_quantity

#: Nothing in a program has a mass; the unit is told for what it is where somebody writes one.
NOT_IN_A_PROGRAM = {Dimension.MASS}


def section(root: Path, title: str) -> str:
    page = (root / "feedscript" / "language" / "README.md").read_text(encoding="utf-8")
    return page.partition(f"## {title}")[2].partition("\n## ")[0]


def units_of_the_grammar() -> set[str]:
    (pattern,) = re.findall(r"^UNIT\.4: /(.*)/$", grammar_text(), re.M)
    words = set(re.findall(r"(?<![\[?\w\\])([A-Za-z]+(?:\\/[a-z]+)?)(?=[|)])", pattern))
    return {word.replace("\\/", "/") for word in words} | {"%", "°", "°C", "°F"}


def dimension_of(unit: str) -> Dimension | None:
    for dimension in Dimension:
        try:
            parse_quantity(f"1 {unit}", dimension)
        except UnitError:
            continue
        return dimension
    return None


def test_every_unit_stands_in_the_table(root: Path) -> None:
    units = {unit for unit in units_of_the_grammar() if dimension_of(unit) is not None}
    assert {"m", "kmh", "rps", "mbar", "deg", "°C"} <= units
    table = set(re.findall(r"`([^`]+)`", section(root, "2. Values")))
    missing = {unit for unit in units - table if dimension_of(unit) not in NOT_IN_A_PROGRAM}
    assert missing == set()


@pytest.mark.parametrize("word", ["advantage sideline", "the base line", "ad service court"])
def test_second_spellings_are_folded(word: str) -> None:
    assert plain_words(word) != word


def test_every_second_spelling_of_a_place_stands_on_the_page(root: Path) -> None:
    """Each word of places in the grammar; those that the fold changes are second spellings."""
    told = section(root, "4. Places").replace("\n  ", " ")
    (pattern,) = re.findall(r"^PLACE_WORD\.4: /(.*)/$", grammar_text(), re.M)
    words = re.findall(r"[a-z]+(?:-[a-z]+)?", pattern.replace("\\s+", " ").replace("\\s*", ""))
    second = {word for word in words if len(word) > 1 and plain_words(word) != word}
    assert {"center", "tramline", "advantage"} <= second
    assert {word for word in second if f"`{word}`" not in told} == set()


def test_every_way_to_write_spin_stands_on_the_page(root: Path) -> None:
    (pattern,) = re.findall(r"^SPIN_WORD\.4: /\(\?:([a-z|]+)\)", grammar_text(), re.M)
    spans = re.findall(r"`([^`\n]+)`", section(root, "5. Feeds"))
    told = {word for span in spans for word in re.findall(r"[a-z]+", span)}
    assert set(pattern.split("|")) <= told


@pytest.mark.parametrize(
    ("name", "whole"), [("deep-one", True), ("deep_2", True), ("deep2", True), ("deep-2", False)]
)
def test_names_are_as_the_page_says(name: str, whole: bool) -> None:
    (pattern,) = re.findall(r"^NAME: /(.*)/$", grammar_text(), re.M)
    assert (re.fullmatch(pattern, name) is not None) is whole
