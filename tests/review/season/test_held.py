"""What became of a season's lessons: by day and program, with whom, and one player over them."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.check.season import SeasonVerdict, check_season
from feedscript.cli import verbs
from feedscript.diagnostics import FeedscriptError
from feedscript.review.record.figures import record_of
from feedscript.review.record.trends import Way
from feedscript.review.season.forms import held_words
from feedscript.review.season.held import Standing, held_of, history_over
from feedscript.tongues.tongue import Tongues
from tests.review.calendar import FIRST_UTC_S, WEEK_S
from tests.review.record.seasons import drawn, quick, write_week
from tests.review.season.test_calendar import PROGRAM
from tests.tongues import pseudo
from tests.tongues.test_nothing_outside import words_of

OTHER = "Something else"
TITLE = "An hour; of depth, and more"
#: The calendar's first lesson is on Wednesday 2027-01-13 at 17:00 UTC, 18:00 in Vienna.
SEASON = """feedscript 1
season "Winter Wednesdays" {{
    every wednesday at 18:00 for 60 min in "Europe/Vienna"
    from 2027-01-13
    week 1 to {weeks} "Depth" {{ use "hour" }}
}}
"""
LATE = datetime(2029, 1, 1, tzinfo=UTC)


def judged(folder: Path, weeks: int) -> SeasonVerdict:
    (folder / "hour.feed").write_text(PROGRAM)
    (folder / "s.season").write_text(SEASON.format(weeks=weeks))
    verdict = check_season(folder / "s.season")
    assert verdict.ok, verdict.diagnostics
    return verdict


def standings(verdict: SeasonVerdict, *journals: Path, now: datetime = LATE) -> list[str]:
    return [one.standing.value for one in held_of(verdict, journals, now).planned]


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Weeks 1 and 2 held, week 3 with another program, week 4 rehearsed only, week 6 held."""
    path = tmp_path / "journal.sqlite"
    kept = quick(path)
    write_week(kept, 0, {"Ash": ["in", "net", "in"], "Birch": ["in"] * 4}, title=TITLE)
    write_week(kept, 1, {"Ash": ["in"] * 5}, title=TITLE.upper())
    write_week(kept, 2, {"Ash": ["in"] * 5}, title=OTHER)
    write_week(kept, 3, {"Ash": ["in"] * 5}, title=TITLE, rehearsal=True)
    write_week(kept, 5, {"Birch": ["in", "long"]}, title=TITLE)
    kept.close()
    return path


def test_each_planned_lesson_stands_as_what_became_of_it(tmp_path: Path, journal: Path) -> None:
    verdict = judged(tmp_path, 7)
    found = ["held", "held", "another program", "not held", "not held", "held", "not held"]
    assert standings(verdict, journal) == found
    before_the_last = datetime.fromtimestamp(FIRST_UTC_S + 5.5 * WEEK_S, UTC)
    assert standings(verdict, journal, now=before_the_last)[-1] == "to come"


def test_the_words_name_who_was_there_and_count(tmp_path: Path, journal: Path) -> None:
    held = held_of(judged(tmp_path, 6), [journal], LATE)
    first, *_, counts = held_words(held)
    assert first == "  week  1  Wed 2027-01-13  held: 18:00 to 18:01, with Ash, Birch"
    assert counts == "held: 3 of 6 so far; another program: 1; not held: 2"


def test_the_words_are_told_in_a_language(tmp_path: Path, journal: Path) -> None:
    held = held_of(judged(tmp_path, 7), [journal], LATE)
    told = [pseudo.outside(pseudo.tongue()(line)) for line in held_words(held)]
    assert {word for line in told for word in words_of(line)} == set(OTHER.split())
    german = Tongues().named("de")
    assert german is not None
    first, *_, counts = held_words(held)
    assert german(first) == "  Woche  1  Mi 2027-01-13  gehalten: 18:00 bis 18:01, mit Ash, Birch"
    assert "nicht gehalten: 3" in german(counts)


def test_of_one_player_nobody_else_is_named(tmp_path: Path, journal: Path) -> None:
    words = "\n".join(held_words(held_of(judged(tmp_path, 6), [journal], LATE), "ash"))
    assert "Ash" in words
    assert "Birch" not in words
    assert "Something else" not in words


def test_a_day_is_that_of_the_place(tmp_path: Path) -> None:
    """23:30 UTC on Tuesday is Wednesday in Vienna; 23:30 there on Wednesday is still the day."""
    verdict = judged(tmp_path, 1)
    for shift_s, standing in ((-17.5 * 3600, "held"), (-18.5 * 3600, "not held"),
                              (5.5 * 3600, "held"), (6.5 * 3600, "not held")):  # fmt: skip
        path = tmp_path / f"{shift_s}.sqlite"
        kept = quick(path)
        write_week(kept, 0, {"Ash": ["in"]}, title=TITLE)
        kept.rows("UPDATE session SET begun_utc_s = begun_utc_s + ?", (shift_s,))
        kept.rows("UPDATE session SET ended_utc_s = ended_utc_s + ?", (shift_s,))
        kept.close()
        assert standings(verdict, path) == [standing], shift_s


def test_another_program_far_from_the_hour_is_another_lesson(tmp_path: Path) -> None:
    verdict = judged(tmp_path, 1)
    path = tmp_path / "far.sqlite"
    kept = quick(path)
    write_week(kept, 0, {"Ash": ["in"]}, title="In the morning")
    kept.rows("UPDATE session SET begun_utc_s = begun_utc_s - 9000")
    kept.close()
    assert standings(verdict, path) == ["not held"]


def test_a_copy_of_a_journal_counts_once(tmp_path: Path, journal: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    copy.write_bytes(journal.read_bytes())
    held = held_of(judged(tmp_path, 2), [journal, copy], LATE)
    assert [len(one.played) for one in held.planned] == [1, 1]


def test_a_players_record_is_of_the_lessons_held_only(tmp_path: Path, journal: Path) -> None:
    held = held_of(judged(tmp_path, 7), [journal], LATE)
    record = record_of(history_over(held, [journal], "ash"))
    assert len(record.lessons) == 2
    assert (record.whole.share.made, record.whole.share.recorded) == (7, 8)
    with pytest.raises(FeedscriptError) as refused:
        history_over(held, [journal], "Birch and nobody")
    assert refused.value.diagnostic.slug == "no-such-player"


def test_who_was_only_elsewhere_has_no_record_over_the_season(tmp_path: Path) -> None:
    verdict, path = judged(tmp_path, 1), tmp_path / "j.sqlite"
    kept = quick(path)
    write_week(kept, 0, {"Ash": ["in"]}, title=TITLE)
    write_week(kept, 3, {"Cedar": ["in"]}, title=TITLE)
    kept.close()
    with pytest.raises(FeedscriptError) as refused:
        history_over(held_of(verdict, [path], LATE), [path], "Cedar")
    assert refused.value.diagnostic.slug == "not-in-season"


def test_a_trend_over_a_season_is_told_where_there_is_one_and_nowhere_else(tmp_path: Path) -> None:
    """Invented players over 24 weeks: one who stays as she is, one who grows from 35 to 80 %."""
    chance, path = random.Random(5), tmp_path / "j.sqlite"
    kept = quick(path)
    for week in range(24):
        growing = 0.35 + 0.45 * week / 23
        results = {"Ash": drawn(chance, 0.6, 24), "Birch": drawn(chance, growing, 24)}
        write_week(kept, week, results, title=TITLE)
    kept.close()
    held = held_of(judged(tmp_path, 24), [path], LATE)
    assert held.count(Standing.HELD) == 24
    same = record_of(history_over(held, [path], "Ash"))
    ways = {
        same.trend.way,
        same.repeats_trend.way,
        *(one.way for one in same.error_trends.values()),
    }
    assert ways == {Way.NONE}
    grown = record_of(history_over(held, [path], "Birch"))
    assert grown.trend.way is Way.UP
    low, high = grown.whole.share.interval
    assert low < grown.whole.share.value < high


def test_the_command_shows_it(tmp_path: Path, journal: Path) -> None:
    judged(tmp_path, 6)
    words = ["season", str(tmp_path / "s.season"), "--journal", str(journal)]
    done = CliRunner().invoke(verbs, words)
    assert done.exit_code == 0, done.output
    assert "held: 18:00 to 18:01, with Ash, Birch" in done.output
    one = CliRunner().invoke(verbs, [*words, "--player", "Ash"])
    assert "Ash: over the season" in one.output
    assert "2 lessons, 13 January 2027" in one.output
    assert "Birch" not in one.output
    found = json.loads(
        CliRunner().invoke(verbs, [*words, "--player", "Ash", "--format", "json"]).output
    )
    assert found["lessons"][0]["lessons"][0]["players"] == ["Ash"]
    assert found["record"]["player"] == "Ash"
    nobody = CliRunner().invoke(verbs, [*words, "--player", "Zoe"])
    assert (nobody.exit_code, "(no-such-player)" in nobody.output) == (1, True)
    nowhere = [*words[:2], "--held", "--journal", str(tmp_path / "none.sqlite")]
    missing = CliRunner().invoke(verbs, nowhere)
    assert missing.exit_code == 1
