"""The journal keeps what it was told, refuses what it must, and survives kill -9."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import (
    BallIntent,
    BallOutcome,
    Journal,
    SessionStart,
    open_journal,
)
from feedscript.launcher.port import Outcome


def begin(journal: Journal) -> int:
    return journal.begin_session(
        SessionStart(
            token=7,
            begun_utc_s=1000.0,
            title="Invented lesson",
            source="invented.feed",
            rehearsal=True,
            plan=b"{}",
            group_json="{}",
        )
    )


def intent(feed_id: int) -> BallIntent:
    return BallIntent(
        feed_id=feed_id,
        ball_no=feed_id,
        launcher=0,
        feed="deep",
        player="A",
        leave_at_device_s=float(feed_id),
        intent_utc_s=1000.0 + feed_id,
    )


def outcome_of(journal: Journal, feed_id: int) -> str | None:
    rows = journal.rows("SELECT outcome FROM ball WHERE feed_id = ?", (feed_id,))
    found: str | None = rows[0]["outcome"]
    return found


def test_an_intent_is_there_when_the_call_returns(tmp_path: Path) -> None:
    writer = open_journal(tmp_path / "journal.sqlite")
    writer.intend(begin(writer), intent(1))
    reader = open_journal(tmp_path / "journal.sqlite")
    assert outcome_of(reader, 1) is None
    reader.close()
    writer.close()


def test_the_disk_is_written_through(tmp_path: Path) -> None:
    journal = open_journal(tmp_path / "journal.sqlite")
    assert journal.rows("PRAGMA journal_mode")[0][0] == "wal"
    assert journal.rows("PRAGMA synchronous")[0][0] == 2  # FULL
    journal.close()


def test_a_feed_id_cannot_be_intended_twice() -> None:
    journal = open_journal(None)
    session = begin(journal)
    journal.intend(session, intent(1))
    with pytest.raises(FeedscriptError) as refused:
        journal.intend(session, intent(1))
    assert refused.value.diagnostic.slug == "journal-unusable"
    journal.close()


def test_a_known_outcome_stays_and_an_unknown_one_may_become_known() -> None:
    journal = open_journal(None)
    session = begin(journal)
    journal.intend(session, intent(1))
    steps = [
        (Outcome.UNKNOWN, "unknown"),
        (Outcome.LEFT, "left"),
        (Outcome.NOT_SENT, "left"),
    ]
    for told, kept in steps:
        journal.settle(session, BallOutcome(feed_id=1, outcome=told, outcome_utc_s=1001.0))
        assert outcome_of(journal, 1) == kept
    journal.close()


@pytest.mark.parametrize("content", [b"not a database at all" * 100, b"\x00\xff" * 5000])
def test_a_file_that_is_no_journal_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "journal.sqlite"
    path.write_bytes(content)
    with pytest.raises(FeedscriptError) as refused:
        open_journal(path)
    assert refused.value.diagnostic.slug == "journal-unusable"
    assert str(path) in refused.value.diagnostic.device


def test_a_newer_journal_is_refused_and_left_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    journal.rows("PRAGMA user_version = 99")
    journal.close()
    with pytest.raises(FeedscriptError) as refused:
        open_journal(path)
    assert "version 99" in refused.value.diagnostic.message


def test_a_folder_that_cannot_be_made_is_a_diagnostic(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(FeedscriptError) as refused:
        open_journal(tmp_path / "file" / "journal.sqlite")
    assert refused.value.diagnostic.slug == "journal-unusable"


WRITER = """
import sys
from pathlib import Path
from tests.journal.test_journal import begin, intent
from feedscript.journal.store import open_journal
journal = open_journal(Path(sys.argv[1]))
session = begin(journal)
feed_id = 0
while True:
    feed_id += 1
    journal.intend(session, intent(feed_id))
    print(feed_id, flush=True)
"""


@pytest.mark.parametrize("lines", [1, 7, 40])
def test_kill_9_loses_nothing_that_was_acknowledged(tmp_path: Path, root: Path, lines: int) -> None:
    path = tmp_path / "journal.sqlite"
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path)],
        stdout=subprocess.PIPE,
        text=True,
        cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)},
    ) as writer:
        assert writer.stdout is not None
        acknowledged = [int(next(writer.stdout)) for _ in range(lines)]
        writer.send_signal(signal.SIGKILL)
    journal = open_journal(path)
    kept = {row["feed_id"] for row in journal.rows("SELECT feed_id FROM ball")}
    assert kept >= set(acknowledged)
    assert journal.rows("PRAGMA integrity_check")[0][0] == "ok"
    journal.close()
