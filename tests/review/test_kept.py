"""What is kept can be listed, copied, exported, forgotten and deleted by command."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

from tests.review.calendar import BALLS, BALLS_EACH, PLAYERS
from tests.review.commands import keep, run


def test_a_forgotten_player_is_in_no_report(calendar: Path) -> None:
    assert f"{3 * BALLS_EACH} balls" in keep("forget", "Fern", "--journal", calendar)
    assert "nobody-to-forget" in keep("forget", "Fern", "--journal", calendar, code=1)
    told = json.loads(run("--journal", calendar, "--format", "json"))
    players = [one["player"] for one in told["players"]]
    assert players == ["Ash", "Birch", "Cedar", "Elm", "forgotten player"]


def test_a_backup_is_whole_and_never_replaces_a_file(calendar: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.sqlite"
    keep("back-up", "-o", target, "--journal", calendar)
    assert "copy-refused" in keep("back-up", "-o", target, "--journal", calendar, code=1)
    assert run("--journal", target) == run("--journal", calendar)


def test_everything_kept_can_be_exported(calendar: Path, tmp_path: Path) -> None:
    keep("export", "-o", tmp_path / "all.csv", "--journal", calendar)
    rows = list(csv.DictReader(io.StringIO((tmp_path / "all.csv").read_text("utf-8"))))
    assert len(rows) == 4 * BALLS - BALLS_EACH  # one was absent once
    keep("export", "-o", tmp_path / "all.json", "--journal", calendar)
    lessons = json.loads((tmp_path / "all.json").read_text("utf-8"))["lessons"]
    assert [len(one["every_ball"]) for one in lessons] == [BALLS, BALLS - BALLS_EACH, BALLS, BALLS]


def test_all_that_is_kept_of_one_player_names_nobody_else(calendar: Path, tmp_path: Path) -> None:
    for ending in ("csv", "json"):
        out = tmp_path / f"fern.{ending}"
        said = keep("export", "-o", out, "--player", "Fern", "--journal", calendar)
        text = out.read_text("utf-8")
        assert "3 lessons" in said
        assert text.count("Fern") == 3 * BALLS_EACH
        assert not [other for other in PLAYERS[:4] if other in text]
    assert "no-such-player" in keep(
        "export", "-o", tmp_path / "x.csv", "--player", "X", "--journal", calendar, code=1
    )


def test_a_name_is_found_however_it_is_typed(calendar: Path, tmp_path: Path) -> None:
    said = keep("export", "-o", tmp_path / "fern.csv", "--player", " FERN", "--journal", calendar)
    assert "3 lessons" in said
    assert f"{3 * BALLS_EACH} balls" in keep("forget", "fern", "--journal", calendar)


def test_old_lessons_can_be_deleted(calendar: Path) -> None:
    assert "deleted: 1, 2" in keep(
        "delete", "--before", "2027-01-25", "--yes", "--journal", calendar
    )
    assert [line.split()[0] for line in keep("list", "--journal", calendar).splitlines()] == [
        "3",
        "4",
    ]
    assert "Aborted" in keep("delete", "3", "--journal", calendar, code=1)
    assert "no lesson 9" in keep("delete", "3", "9", "--yes", "--journal", calendar, code=1)
    assert len(keep("list", "--journal", calendar).splitlines()) == 2


def test_lessons_are_listed_oldest_first(calendar: Path) -> None:
    lines = keep("list", "--journal", calendar).splitlines()
    assert [line.split()[0] for line in lines] == ["1", "2", "3", "4"]
