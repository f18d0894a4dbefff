"""Four seasons of one coach's laptop move into a club, and out of it again, with nothing lost."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import msgspec
import pytest
from click.testing import CliRunner

from feedscript.check.check_program import Options, check_program
from feedscript.cli import verbs
from feedscript.club.link.outbox import Outbox
from feedscript.club.people.history import record_in_club, take_home
from feedscript.club.store.log import take_in
from feedscript.club.store.people import forgotten
from feedscript.club.store.store import Store
from feedscript.journal.queries import entries_but, session_of
from feedscript.journal.store import SessionStart, open_journal, read_journal
from feedscript.review.record.figures import record_of
from feedscript.review.record.history import history_of
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import KINDS
from tests.club.lessons import court

PROGRAM = Path(__file__).with_name("seasons.feed")
SEASON_S, WEEK_S = 182 * 86_400.0, 7 * 86_400.0
LESSONS = [season * SEASON_S + week * WEEK_S for season in range(4) for week in range(2)]


@pytest.fixture(scope="module")
def laptop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lesson rehearsed, and held again and again over four seasons, each time written by the
    engine's own hand."""
    verdict = check_program(PROGRAM, Options())
    assert verdict.plan is not None, verdict.diagnostics
    path = tmp_path_factory.mktemp("laptop") / "journal.sqlite"
    with closing(open_journal(None)) as once, closing(open_journal(path)) as journal:
        journal.rows("PRAGMA synchronous = OFF")  # of a laptop that stays on
        rehearse(verdict.plan, verdict.profiles, str(PROGRAM), journal=once, results=True)
        head = session_of(once, 1)
        assert head is not None
        for number, later_s in enumerate(LESSONS, 1):
            start = SessionStart(
                token=7000 + number,
                begun_utc_s=head.begun_utc_s + later_s,
                rehearsal=False,
                **{name: getattr(head, name) for name in _SAME},
            )
            session = journal.begin_session(start)
            for row in entries_but(once, 1):
                event = msgspec.json.decode(row.data, type=KINDS[row.kind])
                write_event(journal, session, row.utc_s + later_s, moved(event, later_s))
    return path


_SAME = ("title", "source", "plan", "profiles", "group_json", "event_format")


def moved(event: Any, later_s: float) -> Any:
    """The same event so much later by the clock."""
    moments = {
        name: getattr(event, name) + later_s
        for name in event.__struct_fields__
        if name.endswith("utc_s") and getattr(event, name) is not None
    }
    return msgspec.structs.replace(event, **moments)


def move_in(store: Store, path: Path) -> str:
    """As the court's own queue sends it, a batch at a time."""
    host = court(store).host
    with closing(read_journal(path)) as journal:
        outbox = Outbox(journal, {})
        while (batch := outbox.next_batch()) is not None:
            outbox.acknowledge(take_in(store, host, batch.parts, 9.0))
        assert outbox.waiting == 0
    return host


def rows(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of a journal as it lies there, but for the row's own number."""
    with closing(sqlite3.connect(path)) as file:
        return {
            "session": file.execute(
                "SELECT id, token, begun_utc_s, ended_utc_s, ending, title, source, rehearsal,"
                " plan, profiles, group_json, event_format FROM session ORDER BY begun_utc_s"
            ).fetchall(),
            "ball": file.execute("SELECT * FROM ball ORDER BY session_id, feed_id").fetchall(),
            "entry": file.execute(
                "SELECT session_id, utc_s, kind, launcher, data FROM entry ORDER BY session_id, id"
            ).fetchall(),
            "result": file.execute(
                "SELECT session_id, feed_id, result, utc_s, taken_back, landing_x_m, landing_y_m"
                " FROM result ORDER BY session_id, id"
            ).fetchall(),
        }


def test_what_comes_out_is_what_went_in(laptop: Path, store: Store, tmp_path: Path) -> None:
    move_in(store, laptop)
    lessons, passed_over = take_home(store, tmp_path / "home.sqlite")
    assert (lessons, passed_over) == (len(LESSONS), [])
    before, after = rows(laptop), rows(tmp_path / "home.sqlite")
    assert before["ball"]
    assert before["result"]
    assert after == before


def test_a_record_over_four_seasons_is_the_same_on_both_sides(laptop: Path, store: Store) -> None:
    move_in(store, laptop)
    here = record_of(history_of([laptop], "birch"))
    there = record_in_club(store, "birch")
    assert len(there.lessons) == len(LESSONS)
    assert msgspec.to_builtins(there.whole) == msgspec.to_builtins(here.whole)
    assert [one.lesson for one in there.lessons] == [one.lesson for one in here.lessons]


def test_moving_in_again_from_the_way_out_makes_a_second_court_and_changes_nothing(
    laptop: Path, store: Store, tmp_path: Path
) -> None:
    """Two computers with copies of one history: both are kept, and a player's record counts each
    lesson once."""
    move_in(store, laptop)
    take_home(store, tmp_path / "home.sqlite")
    move_in(store, tmp_path / "home.sqlite")
    record = record_in_club(store, "Ash")
    assert len(record.lessons) == len(LESSONS)
    assert record.history.copies == len(LESSONS)


def test_who_was_forgotten_is_not_taken_home(laptop: Path, store: Store, tmp_path: Path) -> None:
    host = move_in(store, laptop)
    forgotten.forget(store, "Ash", 20.0)
    address = store.name
    out = tmp_path / "home.sqlite"
    words = ["club", "export", "--store", address, "--of", "court one", "-o", str(out)]
    done = CliRunner().invoke(verbs, [*words, "--format", "json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.output)["lessons"] == len(LESSONS)
    raw = b"".join(one.read_bytes() for one in tmp_path.glob("home.sqlite*"))
    assert b"Birch" in raw
    assert b"Ash" not in raw
    for wrong in (words, [*words[:-1], str(tmp_path / "new"), "--of", "nowhere"]):
        assert CliRunner().invoke(verbs, wrong).exit_code == 2
    assert host
