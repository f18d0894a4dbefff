"""Checked again after an edit, with what was worked out before: the same as checked afresh.

The fresh check is the oracle: diagnostics, plan, draft, certificate, hour, expectations, names and
what the page shows are compared to the last bit of every number.
"""

from __future__ import annotations

import re
from pathlib import Path

import msgspec
import pytest

from feedscript.desk.seen import seen
from feedscript.diagnostics import has_errors
from feedscript.editor.document import Document, open_document
from feedscript.memo import Memo
from feedscript.plan.aiming import aimed
from feedscript.tongues.text import plain
from tests.desk.random_edits import PROGRAM, SMALL, STATIONS, Coach, each_number, in_folder

SEASON = """feedscript 1
season "Spring" {
    every monday at 16:00 for 45 min in "Europe/Vienna"
    from 2027-04-05
    week 1 to 2 "Depth" { monday "small" }
}
"""
BEGUN = {"evening": PROGRAM, "stations": STATIONS}


def told(document: Document) -> dict[str, bytes]:
    """Everything that is known of a program, as bytes."""
    verdict = document.verdict
    places = verdict.places
    parts = {
        "diagnostics": verdict.diagnostics,
        "ok": verdict.ok,
        "program": verdict.program,
        "plan": verdict.plan,
        "draft": verdict.draft,
        "certificate": verdict.certificate,
        "hour": verdict.hour,
        "expectations": verdict.met,
        "places": places and [places.wishes, places.launchers, *map(list, (
            places.sends.items(), places.steps.items(), places.blocks.items()))],
        "sources": dict(verdict.sources),
        "names": [(one.start, one.end, one.target.source, one.target.start)
                  for one in document.names.occurrences],
        "seen": seen(document),
    }  # fmt: skip
    return {part: msgspec.json.encode(value, enc_hook=plain) for part, value in parts.items()}


def as_fresh(path: Path, text: str, memo: Memo, what: str) -> Document:
    """The program checked afresh, after it was seen that the memo makes no difference."""
    quick, fresh = told(open_document(path, text, memo=memo)), open_document(path, text)
    for part, value in told(fresh).items():
        assert quick[part] == value, f"{part} after {what}"
    return fresh


def edited(folder: Path, text: str, seed: int, edits: int) -> tuple[int, int]:
    """So many edits, each checked both ways; how many programs passed, and how many were aimed."""
    coach, memo, passed, aimed, stuck = Coach(folder, text, seed), Memo(), 0, 0, False
    for number in range(edits):
        what = coach.edit(stuck)
        fresh = as_fresh(coach.path, coach.text, memo, f"edit {number} ({what}) of seed {seed}")
        passed += fresh.verdict.ok
        stuck = fresh.verdict.draft is None
        aimed += not stuck
    return passed, aimed


def test_every_number_of_a_program_its_files_and_its_launcher_counts(tmp_path: Path) -> None:
    memo, path, aimed = Memo(), tmp_path / "small.feed", 0
    used, profile = in_folder(tmp_path)
    assert as_fresh(path, SMALL, memo, "nothing").verdict.ok
    for text in each_number(SMALL):
        aimed += as_fresh(path, text, memo, text).verdict.draft is not None
    for file in (used, profile):
        begun = file.read_text("utf-8")
        for words in each_number(begun):
            file.write_text(words, "utf-8")
            aimed += as_fresh(path, SMALL, memo, words).verdict.draft is not None
        file.write_text(begun, "utf-8")
    assert aimed > 70


def test_what_the_steps_come_to_is_kept_when_the_fastest_ball_is_another(tmp_path: Path) -> None:
    in_folder(tmp_path)
    memo, path = Memo(), tmp_path / "small.feed"
    first, other = (open_document(path, text, memo=memo) for text in (
        SMALL, re.sub(r"speed \d+", "speed 71", SMALL)
    ))  # fmt: skip
    facts, again = first.verdict.facts, other.verdict.facts
    assert facts is not None
    assert again is not None
    assert facts.plan.bounds.fastest_mps != again.plan.bounds.fastest_mps
    assert facts.pairs_of(0) is again.pairs_of(0)


def test_programs_of_a_season_are_aimed_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    in_folder(tmp_path)
    (tmp_path / "small.feed").write_text(SMALL, "utf-8")
    memo, path, text = Memo(), tmp_path / "spring.feed", SEASON
    assert not has_errors(open_document(path, text, memo=memo).verdict.diagnostics)
    monkeypatch.setattr(aimed, "_aim", lambda *_: pytest.fail("aimed again"))
    again = open_document(path, text.replace("Spring", "Summer"), memo=memo)
    monkeypatch.undo()
    assert told(again)["diagnostics"] == told(open_document(path, again.text))["diagnostics"]


@pytest.mark.parametrize("seed", [0, 5])
def test_an_edit_is_checked_as_if_nothing_had_been_checked_before(
    tmp_path: Path, seed: int
) -> None:
    program = list(BEGUN.values())[seed % 2]
    passed, aimed = edited(tmp_path, program, seed, 30)
    assert passed
    assert aimed >= 8


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("seed", range(100, 140))
def test_ten_thousand_edits(tmp_path: Path, seed: int) -> None:
    for program in BEGUN.values():
        edited(tmp_path, program, seed, 125)
