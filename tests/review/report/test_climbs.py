"""The review tells where each player's progression led, and a player's record where they stand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from feedscript.review.record.history import history_of
from feedscript.review.report.html import climb_table
from feedscript.review.report.lesson import lesson_of_player, read_lesson
from feedscript.review.report.words import climb
from tests.review.commands import run as review
from tests.session.engine.test_progressions import PACED, UP, everything_is_in, lesson, turns
from tests.session.rehearsing import Run, rehearse


@pytest.fixture(scope="module")
def played() -> Run:
    """Both go up; who has had the last turn stands where the others stand."""
    return rehearse(lesson(turns(PACED, UP), turns(PACED)), everything_is_in)


def test_each_player_has_the_feeds_on_which_they_began_and_ended(played: Run) -> None:
    found = read_lesson(played.journal)
    assert [(one.player, one.first, one.last) for one in found.climbs] == [
        ("Ash", "a", "b"),
        ("Bay", "a", "b"),
    ]
    assert climb(found.climbs[0]) == "pace: from a to b (2 of 2)"
    heads, rows = climb_table(found)
    assert heads[2:] == ("Began on", "Ended on")
    assert rows == [("Ash", "pace", "a", "b"), ("Bay", "pace", "a", "b")]


def test_nobody_elses_way_is_on_a_players_own_sheet(played: Run) -> None:
    alone = lesson_of_player(read_lesson(played.journal), "Ash", ["Ash", "Bay"])
    assert [one.player for one in alone.climbs] == ["Ash"]


def test_who_never_moved_stands_on_the_first(played: Run) -> None:
    still = rehearse(lesson(turns(PACED)))
    assert [(one.first, one.last) for one in read_lesson(still.journal).climbs] == [("a", "a")] * 2


def test_the_record_and_the_files_tell_it(played: Run, tmp_path: Path) -> None:
    file = tmp_path / "journal.sqlite"
    played.journal.copy_to(file)
    told = json.loads(review("--journal", file, "--player", "ash", "--record", "--format", "json"))
    assert told["lessons"][0]["progressions"] == {"pace": {"began": "a", "ended": "b"}}
    assert "pace: from a to b (2 of 2)" in review("--journal", file, "--player", "Ash", "--record")
    whole = json.loads(review("--journal", file, "--format", "json"))
    assert {"player": "Bay", "name": "pace", "began": "a", "ended": "b"} in whole["progressions"]
    page = tmp_path / "review.html"
    review("--journal", file, "-o", page)
    assert "Ended on" in page.read_text("utf-8")
    assert history_of([file], "ASH").lessons[0].climbs[0].last == "b"
