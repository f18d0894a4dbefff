"""The report stands alone, adds up, and a page for one player shows nobody else."""

from __future__ import annotations

import csv
import io
import json
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli.journal import command as journal_command
from feedscript.cli.review import command as review
from feedscript.launcher.port import Outcome
from feedscript.review.sync import tone, write_wav
from feedscript.session.journal import SessionStart, open_journal
from tests.review.calendar import FIRST_UTC_S, PLAYERS, WEEK_S, write_ball
from tests.review.conftest import SYNC_TONE_UTC_S


def run(*words: str | Path, code: int = 0) -> str:
    done = CliRunner().invoke(review, [str(word) for word in words])
    assert done.exit_code == code, done.output
    assert "Traceback" not in done.output
    return done.output


class Outside(HTMLParser):
    """Everything a page would fetch from elsewhere, or run."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "link", "img", "iframe"):
            self.found.append(tag)
        self.found += [name for name, value in attrs if name in ("src", "href") and value]


def test_the_page_stands_alone(calendar: Path, tmp_path: Path) -> None:
    out = tmp_path / "report.html"
    run("--journal", calendar, "-o", out)
    page = Outside()
    page.feed(out.read_text("utf-8"))
    assert page.found == []
    assert all(player in out.read_text("utf-8") for player in PLAYERS)


def test_a_page_to_hand_out_shows_nobody_else(calendar: Path, tmp_path: Path) -> None:
    for ending in ("html", "csv", "json"):
        out = tmp_path / f"cedar.{ending}"
        run("--journal", calendar, "--player", "Cedar", "-o", out)
        text = out.read_text("utf-8")
        assert "Cedar" in text
        assert not [player for player in PLAYERS if player != "Cedar" and player in text]


def test_what_changed_since_last_time_is_the_difference_of_the_two_lessons(
    calendar: Path,
) -> None:
    shares = []
    for number in ("3", "4"):
        told = json.loads(run(number, "--journal", calendar, "--format", "json"))
        shares.append({one["player"]: one["share_in"] for one in told["players"]})
    last = json.loads(run("--journal", calendar, "--format", "json"))
    assert {one["player"]: one["share_in_before"] for one in last["players"]} == shares[0]
    first = json.loads(run("1", "--journal", calendar, "--format", "json"))
    assert {one["share_in_before"] for one in first["players"]} == {None}


def test_the_csv_has_a_row_for_every_ball(calendar: Path, tmp_path: Path) -> None:
    out = tmp_path / "balls.csv"
    run("--journal", calendar, "-o", out)
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8"))))
    assert len(rows) == 120
    assert {row["player"] for row in rows} == set(PLAYERS)


def test_a_name_cannot_become_part_of_the_page(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "j.sqlite")
    number = journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=FIRST_UTC_S,
            title="<script>alert(1)</script>",
            source="x.feed",
            rehearsal=True,
            plan=b"{}",
            group_json="[]",
        )
    )
    write_ball(journal, number, 1, FIRST_UTC_S + 1, "<img src=x>", "a & b", "in")
    write_ball(journal, number, 2, FIRST_UTC_S + 5, None, "a & b", None, Outcome.UNKNOWN)
    journal.close()
    out = tmp_path / "report.html"
    run("--journal", tmp_path / "j.sqlite", "-o", out)
    page = Outside()
    page.feed(out.read_text("utf-8"))
    assert page.found == []
    assert "not known whether they left" in out.read_text("utf-8")


def test_cues_line_up_by_the_tone_in_the_sound(calendar: Path, tmp_path: Path) -> None:
    rate_hz, tone_at_s = 16_000, 7.0
    sound = tmp_path / "video.wav"
    samples = tone(rate_hz)
    whole = 0.01 * samples.repeat(1).repeat(40)[: rate_hz * 12]
    whole[round(tone_at_s * rate_hz) :][: len(samples)] = samples
    write_wav(sound, whole, rate_hz)
    out = tmp_path / "balls.vtt"
    run("--journal", calendar, "-o", out, "--cues", "balls", "--sound", sound)
    first = json.loads(out.read_text("utf-8").split("\n\n")[1].split("\n")[2])
    # The tone was played 5 s into the lesson; the first ball left 94 s into it.
    video_start = SYNC_TONE_UTC_S - tone_at_s
    first_ball = FIRST_UTC_S + 3 * WEEK_S + 94.0
    assert first["left_s"] == pytest.approx(first_ball - video_start, abs=0.050)


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("9",), 1, "no-such-lesson"),
        (("--player", "Nobody"), 1, "no-such-player"),
        (("-o", "report.docx"), 2, ".html"),
        (("--offset", "soon"), 2, "not a number"),
        (("--sound", "missing.wav"), 1, "sync-not-found"),
        (("1", "--sound", "missing.wav"), 1, "no-sync-tone"),
    ],
)
def test_what_cannot_be_done_says_why(
    words: tuple[str, ...], code: int, told: str, calendar: Path
) -> None:
    assert told in run(*words, "--journal", calendar, code=code)


def test_an_empty_journal_says_what_to_do(tmp_path: Path) -> None:
    assert "run a lesson first" in run("--journal", tmp_path / "none.sqlite", code=1)
    open_journal(tmp_path / "empty.sqlite").close()
    assert "the journal is empty" in run("--journal", tmp_path / "empty.sqlite", code=1)


def test_pictures_are_png(calendar: Path, tmp_path: Path) -> None:
    run("--journal", calendar, "--pictures", tmp_path / "pictures")
    files = sorted((tmp_path / "pictures").iterdir())
    assert len(files) == 2 * len(PLAYERS)
    assert all(file.read_bytes().startswith(b"\x89PNG") for file in files)


def test_a_forgotten_player_is_in_no_report(calendar: Path) -> None:
    done = CliRunner().invoke(journal_command, ["forget", "Cedar", "--journal", str(calendar)])
    assert done.exit_code == 0, done.output
    assert "96 balls" in done.output
    told = json.loads(run("--journal", calendar, "--format", "json"))
    assert {one["player"] for one in told["players"]} == {
        "Ash", "Birch", "Elm", "Fern", "forgotten player",
    }  # fmt: skip


def test_a_backup_is_whole_and_never_replaces_a_file(calendar: Path, tmp_path: Path) -> None:
    target = tmp_path / "copy.sqlite"
    words = ["back-up", str(target), "--journal", str(calendar)]
    assert CliRunner().invoke(journal_command, words).exit_code == 0
    again = CliRunner().invoke(journal_command, words)
    assert again.exit_code == 1
    assert "copy-refused" in again.output
    assert run("--journal", target) == run("--journal", calendar)


def test_lessons_are_listed_oldest_first(calendar: Path) -> None:
    done = CliRunner().invoke(journal_command, ["list", "--journal", str(calendar)])
    assert done.exit_code == 0
    assert [line.split()[0] for line in done.output.splitlines()] == ["1", "2", "3", "4"]
