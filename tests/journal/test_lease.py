"""One host a lesson: a second one is refused with who the first is, until that is gone."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import trio
import trio.testing
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.lease import lease, lease_path
from feedscript.journal.retention import delete_lessons
from feedscript.journal.store import Journal, open_journal
from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.resume import find_broken
from feedscript.session.engine.start import Setting
from tests.plan.small_plans import send
from tests.session.rehearsing import GARAGE, OpenFences, lesson_plan

PLAN = lesson_plan(ShowSpeed(feed=0, line=1), Repeat(times=3, body=(send(0, 4.0),), line=2))
SETTING = Setting(source="invented.feed", rehearsal=False, wall_utc_s=1e9)
SIM = Links(urls=("sim:",))

HOLDER = """
import sys
from feedscript.journal.retention import delete_lessons
from feedscript.journal.lease import lease
with lease(sys.argv[1], int(sys.argv[2]), 1e9):
    print("holds", flush=True)
    sys.stdin.read()
"""


def refused(journal: Journal, session_id: int) -> str:
    """Why this process does not get the lease; "" when it does."""
    try:
        with lease(journal.path, session_id, 2e9):
            return ""
    except FeedscriptError as found:
        return f"{found.diagnostic.slug}: {found.diagnostic.message}"


def begin(path: Path) -> int:
    """A lesson that was begun and whose host is gone."""
    found: list[int] = []

    async def conduct() -> None:
        journal = open_journal(path)
        async with connect_lesson(
            PLAN, [GARAGE], SIM, journal, SETTING, fences=OpenFences()
        ) as engine:
            found.append(engine.lesson.session_id)
            assert refused(journal, found[0]).startswith("lesson-runs")
        journal.close()

    trio.run(conduct, clock=trio.testing.MockClock(autojump_threshold=0))
    return found[0]


def test_a_lesson_is_leased_while_it_runs_and_no_longer(tmp_path: Path) -> None:
    number = begin(tmp_path / "journal.sqlite")
    journal = open_journal(tmp_path / "journal.sqlite")
    assert refused(journal, number) == ""
    journal.close()
    assert not lease_path(str(tmp_path / "journal.sqlite"), number).exists()


def test_the_lease_ends_with_the_process_that_holds_it(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    number, journal = begin(path), open_journal(path)
    words = [sys.executable, "-c", HOLDER, str(path), str(number)]
    with subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == b"holds\n"
        why = refused(journal, number)
        assert f"process {holder.pid} on {os.uname().nodename}" in why
        assert "2001-09-09" in why  # since when
        assert refused(journal, number + 1) == ""  # the lesson of another court
        holder.send_signal(signal.SIGKILL)
        holder.wait()
        assert refused(journal, number) == ""
    journal.close()


def test_who_resumes_a_running_lesson_is_refused_before_anything_is_touched(
    tmp_path: Path,
) -> None:
    path = tmp_path / "journal.sqlite"
    number, journal = begin(path), open_journal(path)
    before = [tuple(row) for row in journal.rows("SELECT * FROM session")]
    words = ["run", "--resume", "--on", "serial:/dev/none", "--journal", str(path), "--format"]
    with lease(journal.path, number, 1e9):
        ended = CliRunner().invoke(verbs, [*words, "json", "--yes-i-am-behind-the-launcher"])
    assert ended.exit_code == 3
    assert "lesson-runs" in ended.output  # and not that the port is not there
    assert f"process {os.getpid()}" in ended.output
    assert [tuple(row) for row in journal.rows("SELECT * FROM session")] == before
    journal.close()


def test_what_is_resumed_is_read_only_once_the_lease_is_held(tmp_path: Path) -> None:
    """The host that ran it may have finished it between the look and the lease."""
    path = tmp_path / "journal.sqlite"
    number, journal = begin(path), open_journal(path)
    stale = find_broken(journal, number)
    journal.end_session(number, "finished", 1e9)

    async def conduct() -> None:
        async with connect_lesson(
            PLAN, [GARAGE], SIM, journal, SETTING, broken=stale, fences=OpenFences()
        ):
            raise AssertionError("a finished lesson was taken up again")

    with pytest.raises(FeedscriptError) as found:
        trio.run(conduct, clock=trio.testing.MockClock(autojump_threshold=0))
    assert found.value.diagnostic.slug == "nothing-to-resume"
    journal.close()


def test_a_lesson_that_runs_is_not_deleted_under_its_host(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    number, journal = begin(path), open_journal(path)
    journal.close()
    with lease(str(path), number, 1e9), pytest.raises(FeedscriptError) as found:
        delete_lessons(path, [number])
    assert found.value.diagnostic.slug == "lesson-runs"
    delete_lessons(path, [number])
    journal = open_journal(path)
    assert journal.rows("SELECT id FROM session") == []
    journal.close()
