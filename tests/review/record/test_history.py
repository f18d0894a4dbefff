"""A record follows the player, not the title: over every lesson of every journal, nothing lost."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import unicodedata
from collections import Counter
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.journal.store import open_journal
from feedscript.plan.model import Result
from feedscript.review.record import history
from feedscript.review.record.figures import counted
from feedscript.review.record.history import history_of
from feedscript.review.report.lesson import Ball, in_series
from tests.review.commands import keep, run
from tests.review.record.seasons import drawn, quick, write_week


def record(*words: str | Path, code: int = 0) -> dict:
    return json.loads(run(*words, "--record", "--format", "json", code=code))


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Three lessons of Zoë under three titles, the name written in three ways; one without her."""
    path = tmp_path / "journal.sqlite"
    kept = quick(path)
    composed, apart = "Zoë", unicodedata.normalize("NFD", "Zoë")
    write_week(kept, 0, {composed: ["in", "net", "net"], "Ash": ["in"] * 6}, title="Monday")
    write_week(kept, 1, {"Ash": ["in", "in"]})
    write_week(kept, 2, {apart: ["long", None, "in"], "Birch": ["net"]}, title="Thursday, Ash too")
    write_week(kept, 3, {"ZOË": ["in", "in", "in", "in"]}, feed="DEEP #2", left_handed=["ZOË"])
    kept.close()
    return path


@pytest.mark.parametrize("typed", ["Zoë", "zoë", " ZOË ", unicodedata.normalize("NFD", "Zoë")])
def test_a_player_is_followed_through_every_title_and_writing(typed: str, journal: Path) -> None:
    told = record("--journal", journal, "--player", typed)
    assert told["player"] == "ZOË"  # as written last
    assert [one["lesson"] for one in told["lessons"]] == [1, 3, 4]
    assert (told["balls"], told["recorded"], told["in"]) == (10, 9, 6)
    assert {name: one["count"] for name, one in told["errors"].items()} == {
        "net": 2,
        "long": 1,
        "left": 0,
        "right": 0,
    }
    assert (told["errors_repeated"]["count"], told["errors_repeated"]["of"]) == (1, 1)
    assert told["longest_streak"]["balls"] == 4
    assert list(told["kinds"]) == ["DEEP"]  # variants, and ways to write it, are one kind of ball


def test_nobody_else_stands_in_a_record(journal: Path, tmp_path: Path) -> None:
    for ending in ("html", "csv", "json"):
        out = tmp_path / f"record.{ending}"
        run("--journal", journal, "--player", "zoë", "--record", "-o", out)
        text = out.read_text("utf-8")
        assert "Thursday, another player too" in text
        assert not [other for other in ("Ash", "Birch") if other in text]
    said = run("--journal", journal, "--player", "zoë", "--record")
    assert not [other for other in ("Ash", "Birch") if other in said]


def test_every_journal_of_the_user_counts_and_a_copy_counts_once(
    journal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = tmp_path / "data" / "feedscript"
    data.mkdir(parents=True)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    shutil.copy(journal, data / "journal.sqlite")
    shutil.copy(journal, data / "backup.sqlite")
    more = quick(data / "indoors.sqlite")
    write_week(more, 9, {"Zoë": ["in"] * 6})
    more.close()
    with closing(sqlite3.connect(data / "club.sqlite")) as store:
        store.execute("PRAGMA application_id = 1717855084")  # a club's: "fdcl"
        store.execute("CREATE TABLE theirs (id INTEGER)")
    told = record("--player", "zoë")
    assert told["balls"] == 16
    assert told["passed_over"] == []
    assert told["lessons_in_two_journals"] == 3
    named = record("--player", "zoë", "--journal", journal, "--journal", data / "indoors.sqlite")
    assert named["balls"] == 16
    assert named["lessons_in_two_journals"] == 0


def test_of_two_copies_the_fuller_counts(journal: Path, tmp_path: Path) -> None:
    early = Path(shutil.copy(journal, tmp_path / "early.sqlite"))
    kept = open_journal(early)
    kept.rows("DELETE FROM ball WHERE session_id = 4 AND feed_id > 1")
    kept.close()
    for order in ((early, journal), (journal, early)):
        words = [word for path in order for word in ("--journal", path)]
        assert record(*words, "--player", "zoë")["balls"] == 10


def test_what_cannot_be_read_is_told_and_passed_over(journal: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken.sqlite"
    broken.write_bytes(b"SQLite format 3\0" + b"?" * 5000)
    damaged = Path(shutil.copy(journal, tmp_path / "damaged.sqlite"))
    kept = open_journal(damaged)
    kept.rows("UPDATE ball SET left_utc_s = 'noon' WHERE session_id = 3")
    kept.close()
    words = ("--journal", broken, "--journal", damaged, "--player", "zoë", "--record")
    said = run(*words)
    assert said.count("journal-unusable") == 2
    assert "2 could not be read and are not in it" in said
    out = tmp_path / "record.json"
    run(*words, "-o", out)
    told = json.loads(out.read_text("utf-8"))
    assert [one["lesson"] for one in told["lessons"]] == [1, 4]
    assert len(told["passed_over"]) == 2
    assert "journal-unusable" in run("--journal", broken, "--player", "zoë", "--record", code=1)


def test_rehearsals_are_no_lessons_and_alone_they_are_called_so(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite"
    kept = quick(path)
    write_week(kept, 0, {"Ash": ["net"] * 6, "Birch": ["in"]}, rehearsal=True)
    write_week(kept, 1, {"Ash": ["in"] * 6})
    kept.close()
    told = record("--journal", path, "--player", "Ash")
    assert (told["balls"], told["in"], told["rehearsals_left_out"]) == (6, 6, 1)
    assert "Rehearsals: no ball flew" in run("--journal", path, "--player", "Birch", "--record")


def test_only_lessons_since_a_day_where_one_is_named(journal: Path) -> None:
    told = record("--journal", journal, "--player", "zoë", "--since", "2027-01-20")
    assert [one["lesson"] for one in told["lessons"]] == [3, 4]


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("--record",), 2, "--player NAME"),
        (("--record", "--family", "--player", "Zoë"), 2, "not both"),
        (("--record", "--player", "Nobody"), 1, "players in them: Ash, Birch"),
        (("--record", "--player", "Zoë", "-o", "x.vtt"), 2, ".html, .csv, .json"),
        (("--record", "--player", "Zoë", "--offset", "1 s"), 2, "--offset is about one lesson"),
        (("1", "--record", "--player", "Zoë"), 2, "lesson 1 is about one lesson"),
        (("--family", "--player", "Zoë"), 2, "-o family.html"),
        (("--family", "--player", "Zoë", "-o", "x.csv"), 2, ".html"),
        (("--since", "2027-01-01"), 2, "--record or --family"),
        (("--journal", "a", "--journal", "b"), 2, "give --journal once"),
    ],
)
def test_what_cannot_be_done_says_why(
    words: tuple[str, ...], code: int, told: str, journal: Path
) -> None:
    assert told in run("--journal", journal, *words, code=code)


def test_who_is_forgotten_has_no_record(journal: Path) -> None:
    keep("forget", "zoë", "--journal", journal)
    said = run("--journal", journal, "--player", "Zoë", "--record", code=1)
    assert "no-such-player" in said
    assert "zoë" not in said.lower().replace("'zoë' had no ball", "")


results = st.lists(st.sampled_from([None, *Result]), max_size=40)


@given(results)
def test_the_parts_of_a_record_add_up(made: list[Result | None]) -> None:
    balls = in_series(
        Ball(n, "deep", "Ash", 4.0 * n + 40.0 * (n // 6), one) for n, one in enumerate(made)
    )
    found = counted(balls)
    tally = Counter(one for one in made if one is not None)
    assert found.share.made == tally[Result.IN] + tally[Result.TARGET]
    assert {error: share.made for error, share in found.errors.items()} == {
        error: tally[error] for error in Result if not error.good
    }
    assert found.share.recorded == tally.total()
    # A row by hand: the recorded results of each six balls, cut at everything but "in".
    sixes = [[one for one in made[n : n + 6] if one] for n in range(0, len(made), 6)]
    rows = [
        len(row)
        for six in sixes
        for row in "".join("i" if one.good else " " for one in six).split()
    ]
    assert (found.longest.balls if found.longest else 0) == max(rows, default=0)


def test_hundreds_of_lessons_are_read_once_each(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "j.sqlite"
    kept = quick(path)
    chance = random.Random(1)
    with kept.together():
        for week in range(60):
            write_week(kept, week, {"Ash": drawn(chance, 0.5, 6), "Birch": ["in"]})
        for week in range(60, 300):
            write_week(kept, week, {"Birch": ["in"]})
    kept.close()
    read: list[int] = []
    original = history.read_lesson

    def counting(journal, number):
        read.append(number)
        return original(journal, number)

    monkeypatch.setattr(history, "read_lesson", counting)
    assert len(history_of([path], "ash").lessons) == 60
    assert sorted(read) == list(range(1, 61))  # and none of those without her
