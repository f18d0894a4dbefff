"""Unsafe programs are refused for what is wrong with them, and their nearest safe twins pass."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.diagnostics import Diagnostic
from tests.safety.corpus_files import Pair, pairs
from tests.safety.plan_cases import CASES
from tests.safety.rules.test_pages import SHOWN

PAIRS = pairs()


def errors(text: str, folder: Path) -> list[Diagnostic]:
    verdict = check_program(folder / "program.feed", text=text)
    assert verdict.ok == (not any(one.is_error for one in verdict.diagnostics))
    return [one for one in verdict.diagnostics if one.is_error]


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)
def test_unsafe_program_is_refused_at_its_place(pair: Pair, tmp_path: Path) -> None:
    found = errors(pair.unsafe, tmp_path)
    assert {one.slug for one in found} == {pair.slug}, [one.message for one in found]
    assert all(one.span is not None and one.help for one in found)


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.name)
def test_its_nearest_safe_twin_passes(pair: Pair, tmp_path: Path) -> None:
    assert [one.message for one in errors(pair.safe, tmp_path)] == []


def test_there_are_ways_enough_to_be_unsafe() -> None:
    assert len(PAIRS) + len(CASES) + len(SHOWN) >= 60
    assert len({pair.why for pair in PAIRS}) == len(PAIRS)
