"""Copies are whole; a player who is forgotten is in no byte that is left; deleted is gone."""

from __future__ import annotations

import sqlite3
import unicodedata
from contextlib import closing
from pathlib import Path

import msgspec
import pytest

from feedscript.check.check_program import check_program
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.retention import (
    Forgotten,
    back_up,
    delete_lessons,
    forget_everyone,
    forget_player,
    names_in,
)
from feedscript.journal.store import BallIntent, Journal, SessionStart, open_journal
from feedscript.plan.canonical import canonical_bytes
from tests.review.calendar import FIRST_UTC_S, write_ball

NAME = "Zoë"

PROGRAM = """feedscript 1
title "Zoë and Birch (invented)"
court { surface hard }
balls { type 2  load 60 }
launcher { stands 1 m behind centre mark }
group { players "Zoë", "Birch" }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h  within 1 m }
lesson {
    show speed of deep
    say "ZOË first, then Birch."
    repeat 3 { send deep after 5 s }
}
"""


def write_everywhere(journal: Journal) -> int:
    """A lesson with the name wherever a name can come to stand."""
    number = journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=FIRST_UTC_S,
            title=f"{NAME} and Birch (invented)",
            source=f"/home/coach/{NAME.lower()}-birch.feed",
            rehearsal=False,
            plan=msgspec.json.encode(
                {"group": {"players": [{"name": NAME}]}, "say": f"{NAME.upper()} first"}
            ),
            group_json=msgspec.json.encode(
                {"players": [{"name": NAME}, {"name": "Birch"}]}
            ).decode(),
        )
    )
    for feed_id, player in enumerate([NAME, "Birch", NAME], start=1):
        write_ball(journal, number, feed_id, FIRST_UTC_S + 4 * feed_id, player, "deep", "net")
    journal.intend(
        number,
        BallIntent(
            feed_id=9,
            ball_no=9,
            launcher=0,
            feed=f"{NAME.lower()}_forehand",
            player="Birch",
            leave_at_device_s=1.0,
            intent_utc_s=1.0,
            station=f"for {NAME}",
        ),
    )
    decomposed = unicodedata.normalize("NFD", NAME)
    for kind, data in (
        ("call", {"text": f"{NAME} is on"}),
        ("call", {"text": f"Ask {decomposed}: where did it land?"}),
        ("roster", {"change": "leave", "player": NAME, "left_handed": True, "by": "page 1"}),
        ("decision", {"lane": "", "number": 1, "reply": {"player": NAME}}),
    ):
        journal.note(number, FIRST_UTC_S, kind, data)
    return number


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    write_everywhere(journal)
    journal.close()
    return path


def holding(folder: Path, name: str) -> list[str]:
    """The files of a folder (the journal, its log, its index) in which a name's bytes stand."""
    forms = [
        unicodedata.normalize(form, word).encode()
        for form in ("NFC", "NFD")
        for word in (name, name.upper(), name.lower())
    ]
    files = [file for file in folder.iterdir() if file.is_file()]
    return [file.name for file in files if any(form in file.read_bytes() for form in forms)]


def test_a_forgotten_player_is_in_no_byte(path: Path) -> None:
    assert holding(path.parent, NAME) == ["journal.sqlite"]
    forget_player(path, NAME)
    assert holding(path.parent, NAME) == []
    assert holding(path.parent, "Birch") == ["journal.sqlite"]
    assert names_in(path) == {"Birch"}


def rows_with(path: Path, name: str) -> dict[str, int]:
    """How many rows of each table hold a name, in whatever case or form, by a plain look."""
    with closing(sqlite3.connect(path)) as journal:
        found = {}
        for table in ("session", "ball", "entry"):
            rows = journal.execute(f"SELECT * FROM {table}").fetchall()
            words = [" ".join(_text(cell) for cell in row) for row in rows]
            found[table] = sum(name.casefold() in text for text in words)
        return found


def _text(cell: object) -> str:
    text = cell.decode() if isinstance(cell, bytes) else str(cell)
    return unicodedata.normalize("NFC", text).casefold()


def test_forgetting_counts_what_it_took_a_name_out_of(path: Path) -> None:
    held = rows_with(path, NAME)
    assert held == {"session": 1, "ball": 3, "entry": 4}
    assert forget_player(path, NAME) == Forgotten(lessons=1, balls=3, notes=4)
    assert rows_with(path, NAME) == {"session": 0, "ball": 0, "entry": 0}


def test_forgetting_counts_a_name_that_no_ball_carries(path: Path) -> None:
    """It is written otherwise where it is asked for, or stands in words alone."""
    assert forget_player(path, NAME.upper()).balls == 3


def test_nor_while_another_program_has_the_journal_open(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("SELECT COUNT(*) FROM ball").fetchall()
        forget_player(path, NAME)
        assert holding(path.parent, NAME) == []


def test_old_bytes_that_another_program_keeps_are_told_of(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feedscript.journal.store.LOCK_WAIT_S", 0.05)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN")
        other.execute("SELECT COUNT(*) FROM ball").fetchall()  # holds its view of the file
        with pytest.raises(FeedscriptError) as told:
            forget_player(path, NAME)
        assert "old pages" in told.value.diagnostic.message
        assert holding(path.parent, NAME) != []
        assert names_in(path) == {"Birch"}
    with pytest.raises(FeedscriptError) as again:
        forget_player(path, NAME)
    assert again.value.diagnostic.slug == "nobody-to-forget"
    assert holding(path.parent, NAME) == []


def test_a_ball_that_was_deleted_long_ago_leaves_nothing_either(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA secure_delete = OFF")
        other.execute("DELETE FROM result")
        other.execute("DELETE FROM ball WHERE player = ?", (NAME,))
    forget_player(path, NAME)
    assert holding(path.parent, NAME) == []


def test_what_became_of_the_balls_stays(path: Path) -> None:
    forget_player(path, NAME)
    journal = open_journal(path)
    made = journal.rows("SELECT player, outcome FROM ball ORDER BY feed_id")
    assert [tuple(row) for row in made] == [
        ("forgotten player", "left"),
        ("Birch", "left"),
        ("forgotten player", "left"),
        ("Birch", None),
    ]
    assert {row[0] for row in journal.rows("SELECT result FROM result")} == {"net"}
    journal.close()


@pytest.mark.parametrize("name", ["Net", "Left", "Call", "Clay", "A"])
def test_a_name_that_is_also_a_word_of_ours_takes_no_word_of_ours_away(
    name: str, tmp_path: Path
) -> None:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    plan = msgspec.json.encode({"court": {"surface": "clay"}, "words": "A person arms it."})
    group = msgspec.json.encode({"players": [{"name": name}]}).decode()
    number = journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=0.0,
            title="A lesson",
            source="x.feed",
            rehearsal=False,
            plan=plan,
            group_json=group,
        )
    )
    write_ball(journal, number, 1, 4.0, name, "deep", "net")
    journal.note(number, 0.0, "call", {"text": f"{name} is on"})
    journal.close()
    assert forget_player(path, name).balls == 1
    journal = open_journal(path)
    assert journal.rows("SELECT result FROM result")[0][0] == "net"
    assert tuple(journal.rows("SELECT outcome, player FROM ball")[0]) == (
        "left",
        "forgotten player",
    )
    assert tuple(journal.rows("SELECT kind, data FROM entry")[0]) == (
        "call",
        '{"text":"forgotten player is on"}',
    )
    assert tuple(journal.rows("SELECT title, plan FROM session")[0]) == ("A lesson", plan)
    journal.close()


def test_part_of_a_name_is_not_the_name(path: Path) -> None:
    with pytest.raises(FeedscriptError) as refused:
        forget_player(path, "Bir")
    assert refused.value.diagnostic.slug == "nobody-to-forget"
    assert "Birch" in refused.value.diagnostic.help
    assert names_in(path) == {"Birch", NAME}


def test_everyone_can_be_forgotten_at_once(path: Path) -> None:
    forget_everyone(path)
    assert holding(path.parent, NAME) == holding(path.parent, "Birch") == []
    assert holding(path.parent, "/home/coach") == []


def test_deleted_lessons_are_gone_from_the_file(path: Path) -> None:
    journal = open_journal(path)
    write_everywhere(journal)
    journal.close()
    assert delete_lessons(path, [1]) == 4
    assert holding(path.parent, NAME) == ["journal.sqlite"]
    assert delete_lessons(path, [2]) == 4
    assert holding(path.parent, NAME) == []


def test_either_all_the_lessons_named_go_or_none(path: Path) -> None:
    with pytest.raises(FeedscriptError) as refused:
        delete_lessons(path, [1, 7])
    assert refused.value.diagnostic.slug == "nothing-to-delete"
    assert names_in(path) == {"Birch", NAME}


def test_a_backup_holds_what_was_written_a_moment_ago(path: Path, tmp_path: Path) -> None:
    journal = open_journal(path)
    write_ball(journal, 1, 77, FIRST_UTC_S + 99, "Birch", "deep", None)
    back_up(path, tmp_path / "copy.sqlite")
    journal.close()
    copy = open_journal(tmp_path / "copy.sqlite")
    assert copy.rows("SELECT COUNT(*) FROM ball WHERE feed_id = 77")[0][0] == 1
    copy.close()


def test_only_its_owner_may_read_a_journal_and_its_copies(path: Path, tmp_path: Path) -> None:
    back_up(path, tmp_path / "copy.sqlite")
    journal = open_journal(path)
    write_ball(journal, 1, 78, FIRST_UTC_S, "Birch", "deep", None)
    files = [file for file in tmp_path.iterdir() if file.is_file()]
    assert len(files) >= 3  # with the log beside the journal
    assert {file.stat().st_mode & 0o777 for file in files} == {0o600}
    journal.close()


def test_a_backup_of_a_damaged_journal_is_refused_and_leaves_no_file(
    path: Path, tmp_path: Path
) -> None:
    whole = bytearray(path.read_bytes())
    whole[4096 : 3 * 4096] = bytes(2 * 4096)
    path.write_bytes(whole)
    with pytest.raises(FeedscriptError):
        back_up(path, tmp_path / "copy.sqlite")
    assert not (tmp_path / "copy.sqlite").exists()
    assert path.read_bytes() == bytes(whole)


def test_a_real_plan_names_its_players_and_is_cleared_of_them(tmp_path: Path) -> None:
    program = tmp_path / "lesson.feed"
    program.write_text(PROGRAM, "utf-8")
    verdict = check_program(program)
    assert verdict.plan is not None, verdict.diagnostics
    path = tmp_path / "kept" / "journal.sqlite"
    journal = open_journal(path)
    journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=0.0,
            title=verdict.plan.title,
            source="lesson.feed",
            rehearsal=False,
            plan=canonical_bytes(verdict.plan),
            group_json=msgspec.json.encode(verdict.plan.group).decode(),
        )
    )
    journal.close()
    assert names_in(path) == {NAME, "Birch"}
    forget_player(path, NAME)
    assert holding(path.parent, NAME) == []
