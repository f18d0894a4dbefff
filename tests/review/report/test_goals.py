"""Goals and games in the review: of a rehearsal with drawn players, held against its journal."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.journal.store import Journal, open_journal
from feedscript.plan.model import Result
from feedscript.review.report.goals import Aimed, aims_of
from feedscript.review.report.lesson import lesson_of_player, read_lesson
from feedscript.review.video.cues import Track, cues_of
from feedscript.session.rehearsal.rehearse import rehearse
from tests.review.commands import run

PROGRAM = """feedscript 1
court { lines singles  surface hard }
balls { type 2  load 70 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ana", "Ben" }
feed deep { land 3 m inside baseline, on centre line  speed 66 km/h  spin top 900 rpm }
target "deep cross" { area ad backcourt  marked "four cones" }
lesson {
    show speed of deep
    exercise "Depth" {
        goal 2 of 4 in "deep cross"
        repeat 2 { for each player { repeat 4 { send deep after 5 s }  rest 12 s } }
    }
    exercise "Points" {
        target "deep cross"
        score to 3 { in target: 2  in: 1  error: launcher 1 }
        for each player { repeat 6 { send deep after 5 s }  rest 12 s }
    }
}
"""


@pytest.fixture(scope="module")
def rehearsed(tmp_path_factory) -> Path:
    """A journal of the lesson, rehearsed with players of whom at least one meets a goal."""
    path = tmp_path_factory.mktemp("goals") / "journal.sqlite"
    verdict = check_program(Path("goals.feed"), text=PROGRAM)
    assert verdict.plan is not None, verdict.diagnostics
    kept = open_journal(path)
    rehearse(verdict.plan, verdict.profiles, "goals.feed", seed=4, journal=kept, results=True)
    kept.close()
    return path


def results(journal: Journal, feeds: range) -> dict[str, list[str]]:
    """What stands in the journal for the balls of these numbers, player by player."""
    rows = journal.rows(
        "SELECT player, result FROM ball JOIN result USING (session_id, feed_id)"
        " WHERE taken_back = 0 AND feed_id BETWEEN ? AND ? ORDER BY feed_id",
        (feeds.start, feeds.stop - 1),
    )
    found: dict[str, list[str]] = {}
    for row in rows:
        found.setdefault(row["player"], []).append(row["result"])
    return found


def test_a_rehearsals_review_shows_goals_and_games_as_they_stand_in_the_journal(
    rehearsed: Path,
) -> None:
    told = json.loads(run("--journal", rehearsed, "--format", "json"))
    kept = open_journal(rehearsed)
    depth, points = results(kept, range(2, 18)), results(kept, range(18, 30))
    kept.close()
    assert {name: len(theirs) for name, theirs in depth.items()} == {"Ana": 8, "Ben": 8}
    assert {name: len(theirs) for name, theirs in points.items()} == {"Ana": 6, "Ben": 6}
    for one in told["goals"]:
        theirs = depth[one["player"]]
        met = any(theirs[at : at + 4].count("target") >= 2 for at in range(len(theirs)))
        assert (one["met_by"] is not None) is met
        assert one["goal"] == "2 of 4 in deep cross"
        halves = (theirs[:4], theirs[4:])
        assert one["turns"] == [[half.count("target"), len(half)] for half in halves]
    assert {one["player"] for one in told["goals"]} == {"Ana", "Ben"}
    for game in told["games"]:
        mine = launcher = 0
        for result in points[game["players"][0]]:
            if max(mine, launcher) < 3:
                mine += {"target": 2, "in": 1}.get(result, 0)
                launcher += result not in ("target", "in")
        assert (game["points"], game["against"]) == (mine, launcher)
        assert (game["won"], game["lost"]) == (mine >= 3, launcher >= 3)
    assert all(game["won"] or game["lost"] for game in told["games"])


def test_the_page_and_the_video_marks_tell_them(rehearsed: Path, tmp_path: Path) -> None:
    run("--journal", rehearsed, "-o", tmp_path / "review.html")
    page = (tmp_path / "review.html").read_text("utf-8")
    assert "2 of 4 in deep cross" in page
    assert "Turn by turn" in page
    assert "with ball" in page
    kept = open_journal(rehearsed)
    lesson = read_lesson(kept)
    kept.close()
    told = lesson.aims.brought_about()
    assert any(words.startswith("game ") for words in told.values())
    cues = cues_of(lesson, lesson.begun_utc_s - 10.0, Track.BALLS)
    texts = {cue.name: cue.text for cue in cues}
    for number, words in told.items():
        assert texts[f"ball-{number}"].endswith(words)


def test_a_players_sheet_has_nobody_elses(rehearsed: Path) -> None:
    kept = open_journal(rehearsed)
    alone = lesson_of_player(read_lesson(kept), "Ana", ["Ana", "Ben"])
    kept.close()
    assert {one.player for one in alone.aims.tried} == {"Ana"}
    assert {game.players for game in alone.aims.games} == {("Ana",)}


def test_balls_of_an_older_journal_count_for_no_goal() -> None:
    balls: Sequence[Aimed] = [Aimed(number=1, player="Ana", result=Result.IN, series=1)]
    steps = [
        {"step": "exercise", "title": "E", "repeats": 0, "line": 1, "goals": [{"at_least": 1}]}
    ]
    assert aims_of(steps, balls, ["Ana"]).tried == ()
    now = [Aimed(number=1, player="Ana", result=Result.IN, series=1, go=(1, 1))]
    assert [one.met_by for one in aims_of(steps, now, ["Ana"]).tried] == [1]
    assert aims_of([{"step": "exercise", "goals": 3}], now, ["Ana"]).tried == ()
