"""The report stands alone, adds up, and a sheet for one player shows nobody else."""

from __future__ import annotations

import csv
import io
import json
import sys
from datetime import datetime
from html.parser import HTMLParser
from pathlib import Path

import pytest

from feedscript.journal.store import Journal, SessionStart, open_journal
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Result
from feedscript.review.video.sync import tone
from tests.review.calendar import (
    BALLS,
    BALLS_EACH,
    FIRST_UTC_S,
    PLAYERS,
    SHOWN_AFTER_S,
    WEEK_S,
    write_ball,
)
from tests.review.commands import keep, run
from tests.review.conftest import SYNC_TONE_UTC_S
from tests.review.record.seasons import write_week
from tests.review.wav import write_wav


class Outside(HTMLParser):
    """Everything a page would fetch from elsewhere, or run."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "link", "img", "iframe", "object", "use", "image"):
            self.found.append(tag)
        self.found += [name for name, value in attrs if name in ("src", "href") and value]


def begin(journal: Journal, title: str, group_json: str = "{}") -> int:
    return journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=FIRST_UTC_S,
            title=title,
            source="x.feed",
            rehearsal=False,
            plan=b"{}",
            group_json=group_json,
        )
    )


def test_the_page_stands_alone(calendar: Path, tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    run("--journal", calendar, "-o", out)
    text = out.read_text("utf-8")
    page = Outside()
    page.feed(text)
    assert page.found == []
    assert "url(" not in text
    assert "default-src 'none'" in text
    assert "<main>" in text
    assert all(player in text for player in PLAYERS)


@pytest.mark.parametrize("player", PLAYERS)
def test_a_sheet_to_hand_out_shows_nobody_else(player: str, calendar: Path, tmp_path: Path) -> None:
    for ending in ("html", "csv", "json", "vtt"):
        out = tmp_path / f"sheet.{ending}"
        run("--journal", calendar, "--player", player, "-o", out)
        text = out.read_text("utf-8")
        assert player in text
        assert not [other for other in PLAYERS if other != player and other in text]
    said = run("--journal", calendar, "--player", player)
    assert not [other for other in PLAYERS if other != player and other in said]


def test_names_in_titles_and_feeds_stay_off_a_sheet_too(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "j.sqlite")
    group = '{"players":[{"name":"Ash"},{"name":"Ash Birch"},{"name":"Zoë"},{"name":"Absent"}]}'
    number = begin(journal, "Ash, Ash Birch, ZOË and absent's half hour", group)
    for n, (player, feed) in enumerate([("Ash", "zoë_low"), ("Ash Birch", "deep"), ("Zoë", "x")]):
        write_ball(journal, number, n + 1, FIRST_UTC_S + n, player, feed, "in", station="for Zoë")
    journal.close()
    out = tmp_path / "sheet.html"
    run("--journal", tmp_path / "j.sqlite", "--player", "Ash", "-o", out)
    text = out.read_text("utf-8")
    assert "<h1>Ash: Ash, another player, another player and another player&#x27;s" in text
    assert "another player low" in text
    assert not [name for name in ("Birch", "zoë", "absent") if name in text.lower()]


def test_what_changed_since_last_time_is_the_difference_of_the_two_lessons(
    calendar: Path,
) -> None:
    shares = []
    for number in ("3", "4"):
        told = json.loads(run(number, "--journal", calendar, "--format", "json"))
        shares.append({one["player"]: one["share_in"] for one in told["players"]})
    last = json.loads(run("--journal", calendar, "--format", "json"))
    assert {one["player"]: one["share_in_before"] for one in last["players"]} == shares[0]
    for one in last["players"]:
        points = shares[1][one["player"]] - shares[0][one["player"]]
        assert one["change"]["points"] == pytest.approx(points)
    first = json.loads(run("1", "--journal", calendar, "--format", "json"))
    assert {one["share_in_before"] for one in first["players"]} == {None}


def test_who_missed_a_lesson_is_compared_with_the_one_before_it(calendar: Path) -> None:
    told = {n: json.loads(run(n, "--journal", calendar, "--format", "json")) for n in ("1", "3")}
    fern = {n: one for n in told for one in told[n]["players"] if one["player"] == "Fern"}
    assert fern["3"]["share_in_before"] == fern["1"]["share_in"]
    assert len(fern["3"]["lessons_before"]) == 1


def test_the_csv_has_a_row_for_every_ball(calendar: Path, tmp_path: Path) -> None:
    out = tmp_path / "balls.csv"
    run("--journal", calendar, "-o", out)
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8"))))
    assert len(rows) == BALLS
    assert {row["player"] for row in rows} == {"", *PLAYERS}
    assert [row["shown"] for row in rows].count("1") == 1
    marked = [row for row in rows if row["landing_x_m"]]
    assert 30 < len(marked) < 90
    assert {row["result"] for row in marked} == {result.value for result in Result}


def test_the_tables_say_when_which_hand_which_kind_and_where_to(tmp_path: Path) -> None:
    kept = open_journal(tmp_path / "j.sqlite")
    week = {"Ash": ["in"], "Birch": ["net"]}
    number = write_week(
        kept, 0, week, title="=1+1 (invented)", feed="deep #2", left_handed=["Birch"]
    )
    kept.note(number, FIRST_UTC_S, "roster", {"change": "join", "player": "X", "left_handed": True})
    write_ball(kept, number, 9, FIRST_UTC_S + 300.25, "X", "other", "in")
    kept.close()
    run("--journal", tmp_path / "j.sqlite", "-o", tmp_path / "balls.csv")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "balls.csv").read_text("utf-8"))))
    keys = ("title", "kind", "feed", "player", "hand", "target_x_m", "target_y_m")
    # The last one's feed is none of the plan's: then nobody knows where it was to land.
    assert [tuple(row[key] for key in keys) for row in rows] == [
        ("'=1+1 (invented)", "deep", "deep #2", "Ash", "right", "1.0", "9.0"),
        ("'=1+1 (invented)", "deep", "deep #2", "Birch", "left", "1.0", "9.0"),
        ("'=1+1 (invented)", "other", "other", "X", "left", "", ""),
    ]
    left = [datetime.fromisoformat(row["left"]) for row in rows]
    assert [one.timestamp() - FIRST_UTC_S for one in left] == pytest.approx([30.0, 60.0, 300.25])
    assert all(one.utcoffset() is not None for one in left)
    exported = tmp_path / "all.json"
    keep("export", "-o", exported, "--journal", tmp_path / "j.sqlite")
    (lesson,) = json.loads(exported.read_text("utf-8"))["lessons"]
    assert datetime.fromisoformat(lesson["begun"]).timestamp() == FIRST_UTC_S
    plain = [(one["kind"], one["hand"], one["target_m"]) for one in lesson["every_ball"]]
    assert plain == [
        ("deep", "right", [1.0, 9.0]),
        ("deep", "left", [1.0, 9.0]),
        ("other", "left", None),
    ]
    assert [one["left"] for one in lesson["every_ball"]] == [row["left"] for row in rows]


def test_the_figures_are_those_of_the_balls(calendar: Path, tmp_path: Path) -> None:
    out = tmp_path / "balls.csv"
    run("--journal", calendar, "-o", out)
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8"))))
    told = json.loads(run("--journal", calendar, "--format", "json"))
    for one in told["players"]:
        theirs = [row["result"] for row in rows if row["player"] == one["player"]]
        assert one["balls"] == len(theirs) == BALLS_EACH
        for result in Result:
            assert one[result.value] == theirs.count(result.value) + (
                theirs.count("target") if result is Result.IN else 0  # what is in the target is in
            )
        assert len(one["landings"]) == sum(
            row["player"] == one["player"] and bool(row["landing_x_m"]) for row in rows
        )
    assert sum(one["balls"] for one in told["feeds"].values()) == BALLS - 1


def test_a_landing_that_was_taken_back_is_not_drawn(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite"
    journal = open_journal(path)
    number = begin(journal, "Lesson")
    for feed_id, mark in ((1, (1.0, -9.0)), (2, (2.0, -9.0)), (3, None)):
        write_ball(
            journal, number, feed_id, FIRST_UTC_S + feed_id, "Ash", "deep", "in", landing_m=mark
        )
    journal.take_back(number, 1)
    journal.take_back(number, 2)
    journal.record(number, 2, "long", FIRST_UTC_S, (0.5, -12.5))
    journal.close()
    (ash,) = json.loads(run("--journal", path, "--format", "json"))["players"]
    assert ash["landings"] == [[0.5, -12.5, "long"]]
    assert (ash["recorded"], ash["in"], ash["long"]) == (2, 1, 1)


@pytest.mark.parametrize("name", ["<img src=x>", "a$b$ \\frac", "=1+1", "İ王🎾", "x" * 300])
def test_a_name_cannot_become_part_of_the_page(name: str, tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "j.sqlite")
    number = begin(journal, "<script>alert(1)</script>")
    write_ball(journal, number, 1, FIRST_UTC_S + 1, name, "a & b", "in")
    write_ball(journal, number, 2, FIRST_UTC_S + 5, None, "a & b", None, Outcome.UNKNOWN)
    journal.close()
    for ending in ("html", "csv", "vtt", "json"):
        run("--journal", tmp_path / "j.sqlite", "-o", tmp_path / f"report.{ending}")
    page = Outside()
    text = (tmp_path / "report.html").read_text("utf-8")
    page.feed(text)
    assert page.found == []
    assert "not known whether they left" in text
    (row,) = csv.DictReader(io.StringIO((tmp_path / "report.csv").read_text("utf-8")))
    assert not row["player"].startswith("=")


def test_an_hour_that_nobody_recorded_still_has_a_report(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "j.sqlite")
    number = begin(journal, "Nobody tapped")
    write_ball(journal, number, 1, FIRST_UTC_S + 1, "Ash", "deep", None)
    journal.close()
    run("--journal", tmp_path / "j.sqlite", "-o", tmp_path / "report.html")
    assert "1 ball, none recorded." in (tmp_path / "report.html").read_text("utf-8")


def test_cues_line_up_by_the_tone_in_the_sound(calendar: Path, tmp_path: Path) -> None:
    rate_hz, tone_at_s = 16_000, 7.0
    sound = tmp_path / "video.wav"
    whole = 0.01 * tone(rate_hz).repeat(40)[: rate_hz * 12]
    whole[round(tone_at_s * rate_hz) :][: len(tone(rate_hz))] = tone(rate_hz)
    write_wav(sound, whole, rate_hz)
    assert _first_left_s(calendar, tmp_path, "--sound", sound) == pytest.approx(
        FIRST_UTC_S + 3 * WEEK_S + SHOWN_AFTER_S - (SYNC_TONE_UTC_S - tone_at_s), abs=0.050
    )


def test_cues_line_up_by_a_ball_seen_in_the_video(calendar: Path, tmp_path: Path) -> None:
    assert _first_left_s(calendar, tmp_path, "--offset", "12.5 s") == pytest.approx(12.5)
    # Ball 2 leaves 34 s after the first, which was shown.
    assert _first_left_s(
        calendar, tmp_path, "--offset", "1 min", "--at-ball", "2"
    ) == pytest.approx(60.0 - 34.0)


def _first_left_s(calendar: Path, folder: Path, *words: str | Path) -> float:
    out = folder / "balls.vtt"
    run("--journal", calendar, "-o", out, "--cues", "metadata", *words)
    first = json.loads(out.read_text("utf-8").split("\n\n")[1].split("\n")[2])
    return float(first["left_s"])


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("9",), 1, "no-such-lesson"),
        (("--player", "Nobody"), 1, "no-such-player"),
        (("-o", "report.pdf"), 2, ".html"),
        (("-o", "no/such/folder/report.html"), 2, "cannot be written"),
        (("--charts", __file__), 2, "is a file"),
        (("--offset", "soon"), 2, "not a number"),
        (("--sound", "missing.wav"), 1, "sound-unusable"),
        (("--sound", "a.wav", "--offset", "1 s"), 2, "not both"),
        (("1", "--sound", "missing.wav"), 1, "no-sync-tone"),
        (("--sound", "missing.wav", "--tone", "2"), 1, "no-such-mark"),
        (("--offset", "1 s", "--at-ball", "999"), 1, "no-such-mark"),
    ],
)
def test_what_cannot_be_done_says_why(
    words: tuple[str, ...], code: int, told: str, calendar: Path
) -> None:
    assert told in run(*words, "--journal", calendar, code=code)


@pytest.mark.parametrize("library", ["resvg_py", "matplotlib"])
def test_without_the_extra_the_fix_is_named(
    library: str,
    calendar: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, library, None)  # as where it is not installed
    said = run("--charts", tmp_path / "charts", "--journal", calendar, code=1)
    assert "feedscript[plots]" in said
    assert library in said
    assert not list((tmp_path / "charts").glob("*"))


def test_an_empty_journal_says_what_to_do(tmp_path: Path) -> None:
    assert "run a lesson first" in run("--journal", tmp_path / "none.sqlite", code=1)
    open_journal(tmp_path / "empty.sqlite").close()
    assert "the journal is empty" in run("--journal", tmp_path / "empty.sqlite", code=1)


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE result SET result = 'splendid'",
        "UPDATE ball SET left_utc_s = 'noon'",
        "UPDATE ball SET left_utc_s = NULL",
        "UPDATE session SET begun_utc_s = 'noon'",
        "UPDATE result SET landing_x_m = 'x', landing_y_m = 'y'",
    ],
)
def test_what_no_lesson_can_hold_is_a_diagnostic(damage: str, calendar: Path) -> None:
    journal = open_journal(calendar)
    journal.rows(damage)
    journal.close()
    assert "journal-unusable" in run("--journal", calendar, code=1)


def test_pictures_are_png(calendar: Path, tmp_path: Path) -> None:
    run("--journal", calendar, "--player", "Elm", "--charts", tmp_path / "pictures")
    files = sorted((tmp_path / "pictures").iterdir())
    assert [file.name for file in files] == ["Elm-errors.png", "Elm-landings.png", "Elm-weeks.png"]
    assert all(file.read_bytes().startswith(b"\x89PNG") for file in files)
