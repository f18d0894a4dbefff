"""Two stations side by side, a lesson without a ball, and a player who was away for weeks."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
import webvtt

from feedscript.journal.store import Journal, SessionStart, open_journal, read_journal
from feedscript.review.report.figures import player_figures
from feedscript.review.report.lesson import read_lesson
from feedscript.review.report.words import percent, told
from tests.review.calendar import FIRST_UTC_S, write_ball
from tests.review.commands import run

TEAMS = {"near": ("Ash", "Birch"), "far": ("Cedar", "Elm")}
TURN_S = 60.0


def begin(journal: Journal, begun_utc_s: float = 0.0, title: str = "Two stations") -> int:
    return journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=FIRST_UTC_S + begun_utc_s,
            title=title,
            source="x.feed",
            rehearsal=False,
            plan=b'{"seed":1,"court":{"kind":"singles"}}',
            group_json="{}",
        )
    )


@pytest.fixture
def side_by_side(tmp_path: Path) -> Path:
    """Both speeds shown, then two turns at each of two stations, balls in the same instants."""
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    number = begin(journal)
    feed_id = 0
    for launcher in (0, 1):
        feed_id += 1
        left_s = FIRST_UTC_S + 5.0 + launcher
        write_ball(journal, number, feed_id, left_s, None, "deep", None, shown=True,
                   launcher=launcher)  # fmt: skip
    for turn in range(2):
        for ball in range(6):
            for launcher, (station, players) in enumerate(TEAMS.items()):
                feed_id += 1
                left_s = FIRST_UTC_S + 30.0 + turn * TURN_S + 4.0 * ball
                write_ball(journal, number, feed_id, left_s, players[turn], "deep", "in",
                           station=station, launcher=launcher)  # fmt: skip
    journal.end_session(number, "finished", FIRST_UTC_S + 200.0)
    journal.close()
    return path


def marks(path: Path, folder: Path) -> list[tuple[str, float, float]]:
    out = folder / "marks.vtt"
    run("--journal", path, "--cues", "turns", "-o", out, "--offset", "5 s")
    read = webvtt.from_buffer(io.StringIO(out.read_text())).captions
    return [(cue.text, cue.start_in_seconds, cue.end_in_seconds) for cue in read]


def test_each_turn_is_marked_whole_beside_that_of_the_other_station(
    side_by_side: Path, tmp_path: Path
) -> None:
    found = marks(side_by_side, tmp_path)
    turns = {text.split(":")[0]: end - start for text, start, end in found}
    assert set(turns) == {"Speed shown", "Ash", "Birch", "Cedar", "Elm"}
    for player in ("Ash", "Birch", "Cedar", "Elm"):
        assert turns[player] == pytest.approx(5 * 4.0 + 5.0, abs=1.1)


def test_each_shown_ball_is_marked_by_itself(side_by_side: Path, tmp_path: Path) -> None:
    shown = [text for text, _, _ in marks(side_by_side, tmp_path) if text.startswith("Speed")]
    assert shown == ["Speed shown: deep (1 ball)"] * 2


def test_no_two_balls_share_a_number_and_each_says_its_launcher(
    side_by_side: Path, tmp_path: Path
) -> None:
    out = tmp_path / "balls.csv"
    run("--journal", side_by_side, "-o", out)
    rows = list(csv.DictReader(io.StringIO(out.read_text())))
    assert len({row["ball"] for row in rows}) == len(rows) == 26
    assert {(row["launcher"], row["station"]) for row in rows if row["player"]} == {
        ("1", "near"),
        ("2", "far"),
    }


@pytest.mark.parametrize("ending", ["vtt", "csv", "json", "html"])
def test_a_lesson_without_a_ball_has_a_record_too(ending: str, tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    begin(journal)
    journal.close()
    run("--journal", path, "-o", tmp_path / f"empty.{ending}")
    assert (tmp_path / f"empty.{ending}").exists()


def test_last_time_is_found_behind_many_lessons_of_others(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    for week in range(12):
        number = begin(journal, begun_utc_s=week * 604_800.0)
        player = "Fern" if week in (0, 11) else "Ash"
        for feed_id in range(1, 21):
            made = "in" if feed_id % 2 else "net"
            left_s = FIRST_UTC_S + week * 604_800.0 + 4.0 * feed_id
            write_ball(journal, number, feed_id, left_s, player, "deep", made)
    journal.close()
    printed = json.loads(run("--journal", path, "--format", "json"))
    (fern,) = printed["players"]
    assert fern["share_in_before"] == 0.5


@pytest.mark.parametrize(
    ("made", "of", "said"), [(23, 40, "58 %"), (1, 8, "13 %"), (57, 200, "29 %"), (1, 3, "33 %")]
)
def test_a_half_is_rounded_as_people_round(made: int, of: int, said: str) -> None:
    assert percent(made / of) == said


def test_no_direction_is_named_where_none_stands_out(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    number = begin(journal)
    for feed_id, made in enumerate(["net", "net", "left", "long", "in", "in"], start=1):
        write_ball(journal, number, feed_id, FIRST_UTC_S + 4.0 * feed_id, "Ash", "deep", made)
    journal.close()
    journal = read_journal(path)
    (ash,) = player_figures(read_lesson(journal))
    journal.close()
    assert ash.whole.missed == 4
    assert "went" not in " ".join(told(ash, sheet=False))
