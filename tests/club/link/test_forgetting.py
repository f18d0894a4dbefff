"""A court that was away for a week forgets whom the club has forgotten, before its next lesson."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import anyio
import httpx
import pytest
from starlette.applications import Starlette

from feedscript.club.link.forgetting import journals_here, obey_club
from feedscript.club.link.membership import Membership
from feedscript.club.people.telling import Telling
from feedscript.club.store.people import forgotten
from feedscript.club.store.store import Store
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.lease import is_running, lease
from feedscript.journal.retention import names_in
from feedscript.journal.store import default_journal_path, open_journal
from tests.club.lessons import court
from tests.journal.test_keeping import NAME, write_everywhere

URL = "http://127.0.0.1"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "court.sqlite"
    with closing(open_journal(path)) as journal:
        write_everywhere(journal)
    return path


def obeys(store: Store, key: str, path: Path) -> list[int]:
    """What a court of this key forgets; by the server's own routes."""
    transport = httpx.ASGITransport(Starlette(routes=Telling(store).routes()))
    membership = Membership(url=URL, host="", key=key, name="court one")

    async def main() -> list[int]:
        done = await obey_club(membership, [path], transport)
        return [one.names for one in done]

    return anyio.run(main)


def test_it_forgets_once_and_the_club_knows(store: Store, path: Path) -> None:
    joined = court(store)
    assert obeys(store, joined.key, path) == []
    forgotten.forget(store, NAME.upper(), 20.0)
    with store.reading() as connection:
        assert forgotten.not_heard(connection) == ["court one"]
    assert obeys(store, joined.key, path) == [1]
    assert names_in(path) == {"Birch"}
    with store.reading() as connection:
        assert forgotten.not_heard(connection) == []
    assert obeys(store, joined.key, path) == []


def test_while_a_lesson_runs_nothing_is_touched_and_nothing_is_said(
    store: Store, path: Path
) -> None:
    joined = court(store)
    forgotten.forget(store, NAME, 20.0)
    with lease(str(path), 1, 20.0):
        assert is_running(path)
        assert obeys(store, joined.key, path) == []
        assert NAME in names_in(path)
        with store.reading() as connection:
            assert forgotten.not_heard(connection) == ["court one"]
    assert not is_running(path)
    assert obeys(store, joined.key, path) == [1]


def test_a_journal_that_could_not_be_rewritten_is_not_said_to_have_obeyed(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feedscript.journal.store.LOCK_WAIT_S", 0.05)
    joined = court(store)
    forgotten.forget(store, NAME, 20.0)
    with closing(open_journal(path)) as other, other.together():
        other.rows("SELECT COUNT(*) FROM session")
        with pytest.raises(FeedscriptError):
            obeys(store, joined.key, path)
    with store.reading() as connection:
        assert forgotten.not_heard(connection) == ["court one"]


def test_every_journal_of_the_users_is_meant_and_no_other_file(path: Path) -> None:
    folder = default_journal_path().parent
    folder.mkdir(parents=True, exist_ok=True)
    with closing(open_journal(folder / "an-older-one.sqlite")):
        pass
    with closing(sqlite3.connect(folder / "club.sqlite")) as store:
        store.execute("PRAGMA application_id = 1717920620")
        store.execute("CREATE TABLE theirs (id INTEGER)")
    found = journals_here(path)
    assert path in found
    assert folder / "an-older-one.sqlite" in found
    assert folder / "club.sqlite" not in found
    for name in ("an-older-one.sqlite", "club.sqlite"):
        (folder / name).unlink()
