"""What a lesson's records suggest: words to be taken or left, with which the program passes."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.desk.suggestions import Suggestion, suggestions
from feedscript.diagnostics import FeedscriptError
from feedscript.editor.document import Document, open_document
from feedscript.journal.store import open_journal
from tests.desk.held_lesson import hold

WORDS = """feedscript 1
title "Suggested (invented)"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ash", "Birch"  level club }
feed deep {
    land 3 m inside baseline, on centre line
    speed 80 km/h  # as last year
    spin top 900 rpm
}
lesson {
    show speed of deep
    for each player { repeat 4 { send deep after 5 s }  rest 10 s }
}
"""
#: Of 100 balls 70 in is where "harder" begins, under 40 where "easier" does (the report's rule).
MADE = {"Ash": (10, 12), "Birch": (3, 12), "Cedar": (6, 12), "Dana": (9, 9)}


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite"
    hold(path, "Suggested (invented)", "deep", MADE)
    return path


def document(words: str, folder: Path) -> Document:
    return open_document(folder / "mine.feed", words)


def by_step(found: tuple[Suggestion, ...]) -> dict[str, Suggestion]:
    return {one.step: one for one in found}


def changed(words: str, suggestion: Suggestion, number: int = 0) -> str:
    for edit in reversed(suggestion.proposals[number].edits):
        words = words[: edit.start] + edit.words + words[edit.end :]
    return words


def test_harder_and_easier_for_those_whose_records_say_so(journal: Path, tmp_path: Path) -> None:
    """Cedar is between the two; of Dana too few were recorded to say, nine where ten are asked."""
    found = by_step(suggestions(journal, 1, document(WORDS, tmp_path)))
    assert set(found) == {"harder", "easier"}
    assert found["harder"].players == ("Ash (10 of 12 in)",)
    assert found["easier"].players == ("Birch (3 of 12 in)",)


def test_each_proposal_changes_one_figure_and_the_program_passes_with_it(
    journal: Path, tmp_path: Path
) -> None:
    found = by_step(suggestions(journal, 1, document(WORDS, tmp_path)))
    faster, sooner = found["harder"].proposals
    assert (faster.title, sooner.title) == ("faster: 85 km/h", "less time before it: 4 s")
    assert changed(WORDS, found["harder"]) == WORDS.replace("80 km/h", "85 km/h")
    assert changed(WORDS, found["harder"], 1) == WORDS.replace("after 5 s", "after 4 s")
    assert changed(WORDS, found["easier"]) == WORDS.replace("80 km/h", "75 km/h")
    assert changed(WORDS, found["easier"], 1) == WORDS.replace("after 5 s", "after 6 s")
    for one in found.values():
        for number in range(len(one.proposals)):
            assert document(changed(WORDS, one, number), tmp_path).verdict.ok


def test_the_unit_stays_and_letters_of_two_units_do_not_shift_the_places(
    journal: Path, tmp_path: Path
) -> None:
    words = WORDS.replace("80 km/h  # as", "50 mph  # 🎾 as").replace(
        "feedscript 1", "# 🎾\nfeedscript 1"
    )
    words = words.replace("# 🎾\nfeedscript 1", "feedscript 1\n# 🎾")
    (harder,) = (
        one for one in suggestions(journal, 1, document(words, tmp_path)) if one.step == "harder"
    )
    edit = harder.proposals[0].edits[0]
    as_browser = words.encode("utf-16-le")
    assert as_browser[2 * edit.start : 2 * edit.end].decode("utf-16-le") == "50 mph"
    assert edit.words == "53 mph"


def test_what_would_not_pass_is_not_proposed(journal: Path, tmp_path: Path) -> None:
    """A second less than 3 s is under the least interval; so fast a launcher is at its end."""
    tight = WORDS.replace("80 km/h", "115 km/h").replace("after 5 s", "after 3 s")
    opened = document(tight, tmp_path)
    assert opened.verdict.ok
    for one in suggestions(journal, 1, opened):
        for number in range(len(one.proposals)):
            assert document(changed(tight, one, number), tmp_path).verdict.ok


def test_a_program_that_does_not_pass_is_mended_first(journal: Path, tmp_path: Path) -> None:
    broken = WORDS.replace("80 km/h", "280 km/h")
    told = suggestions(journal, 1, document(broken, tmp_path))
    assert {one.why_not for one in told} == {"mend what the check says first"}


def test_a_feed_that_is_gone_or_written_elsewhere_is_told_in_words(
    journal: Path, tmp_path: Path
) -> None:
    other = WORDS.replace("deep", "long")
    told = by_step(suggestions(journal, 1, document(other, tmp_path)))["harder"]
    assert told.proposals == ()
    assert told.why_not == "deep is not in this program any more"
    hold(journal, "Elsewhere", "warm_up.full_court", {"Ash": (12, 12)})
    library = WORDS.replace("court {", 'use "library/warm_up.feed"\ncourt {', 1).replace(
        "send deep", "send warm_up.full_court"
    )
    (away,) = suggestions(journal, 2, document(library, tmp_path))
    assert [one.title for one in away.proposals] == ["less time before it: 4 s"]
    pattern = library.replace("send deep", "send warm_up.full_court").replace(
        "for each player { repeat 4 { send warm_up.full_court after 5 s }  rest 10 s }",
        "warm_up.warm_up(balls = 4)",
    )
    (whole,) = suggestions(journal, 2, document(pattern, tmp_path))
    assert "written in another file" in whole.why_not


def test_a_journal_without_that_lesson_is_refused_and_nothing_is_written(
    journal: Path, tmp_path: Path
) -> None:
    before = journal.read_bytes()
    opened = document(WORDS, tmp_path)
    suggestions(journal, 1, opened)
    with pytest.raises(FeedscriptError, match="no lesson 9"):
        suggestions(journal, 9, opened)
    assert journal.read_bytes() == before
    assert not (tmp_path / "mine.feed").exists()
    open_journal(journal).close()
