"""A journal of any older version is brought up; any other file is refused and left as it was."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.schema import APPLICATION_ID, MIGRATIONS, SCHEMA_VERSION
from feedscript.journal.store import open_journal, read_journal
from tests.journal.test_journal import begin, intent

OLD = Path(__file__).parent / "old_journals"
NOBODY = 65534


def old_journal(version: int, path: Path) -> Path:
    """A journal as that version wrote it, from its dump."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((OLD / f"version_{version}.sql").read_text("utf-8"))
    return path


def content(path: Path) -> tuple[int, dict[str, list[tuple[object, ...]]]]:
    """The version, and every table's rows with the columns that all versions have."""
    with closing(sqlite3.connect(path)) as connection:
        tables = ("session", "ball", "entry")
        rows = {name: connection.execute(f"SELECT * FROM {name}").fetchall() for name in tables}
        rows["session"] = [row[:11] for row in rows["session"]]
        query = "SELECT id, session_id, feed_id, result, utc_s, taken_back FROM result"
        rows["result"] = connection.execute(query).fetchall()
        return connection.execute("PRAGMA user_version").fetchone()[0], rows


def refusal(path: Path) -> str:
    """What both ways of opening say; both must refuse."""
    said = []
    for opened in (open_journal, read_journal):
        with pytest.raises(FeedscriptError) as refused:
            opened(path)
        assert refused.value.diagnostic.slug == "journal-unusable"
        assert refused.value.diagnostic.device == str(path)
        assert refused.value.diagnostic.help
        said.append(refused.value.diagnostic.message)
    return said[0]


def read_whole(path: Path) -> None:
    journal = read_journal(path)
    try:
        journal.rows("SELECT * FROM ball ORDER BY intent_utc_s")
    finally:
        journal.close()


def test_every_released_version_has_its_dump() -> None:
    assert {file.name for file in OLD.iterdir()} == {
        f"version_{number}.sql" for number in range(1, SCHEMA_VERSION)
    }


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION))
def test_an_older_journal_is_brought_up_with_everything_in_it(version: int, tmp_path: Path) -> None:
    path = old_journal(version, tmp_path / "journal.sqlite")
    _, before = content(path)
    journal = open_journal(path)
    journal.record(1, 4, "left", 1.0, (0.5, -9.0))
    journal.close()
    now, after = content(path)
    assert now == SCHEMA_VERSION
    assert after.pop("result")[:-1] == before.pop("result")
    assert after == before


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION))
def test_reading_an_older_journal_does_not_change_it(version: int, tmp_path: Path) -> None:
    path = old_journal(version, tmp_path / "journal.sqlite")
    before = path.read_bytes()
    journal = read_journal(path)
    assert journal.rows("SELECT landing_x_m FROM result")[0][0] is None
    assert journal.rows("PRAGMA user_version")[0][0] == SCHEMA_VERSION
    journal.close()
    assert path.read_bytes() == before


@pytest.mark.parametrize("broken_at", range(1, len(MIGRATIONS)))
def test_a_migration_that_fails_leaves_the_journal_as_it_was(
    broken_at: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = old_journal(1, tmp_path / "journal.sqlite")
    before = content(path)
    broken = [*MIGRATIONS[:broken_at], f"{MIGRATIONS[broken_at]}; NO SUCH STATEMENT"]
    monkeypatch.setattr("feedscript.journal.schema.MIGRATIONS", broken)
    with pytest.raises(FeedscriptError):
        open_journal(path)
    assert content(path) == before


def test_a_new_journal_has_the_tables_of_one_brought_up(tmp_path: Path) -> None:
    open_journal(tmp_path / "new.sqlite").close()
    open_journal(old_journal(1, tmp_path / "old.sqlite")).close()
    schemas = []
    for name in ("new.sqlite", "old.sqlite"):
        with closing(sqlite3.connect(tmp_path / name)) as connection:
            assert connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION_ID
            tables = "session", "ball", "entry", "result"
            schemas.append(
                [connection.execute(f"PRAGMA table_info({t})").fetchall() for t in tables]
            )
    assert schemas[0] == schemas[1]


def test_reading_makes_no_file(tmp_path: Path) -> None:
    path = tmp_path / "none.sqlite"
    with pytest.raises(FeedscriptError) as refused:
        read_journal(path)
    assert "there is no journal" in refused.value.diagnostic.message
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("statements", "said"),
    [
        ("PRAGMA user_version = 99", "99"),  # a newer version
        ("CREATE TABLE recipe (name TEXT)", "something else"),
        ("PRAGMA user_version = 1; CREATE TABLE result (id INTEGER)", "something else"),
        ("PRAGMA application_id = 1", "something else"),
    ],
)
def test_a_foreign_or_newer_database_is_refused_to_the_last_byte(
    statements: str, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "journal.sqlite"
    if "user_version = 99" in statements:
        open_journal(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(statements)
    before = path.read_bytes()
    assert said in refusal(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("text", [b"not a database at all" * 100, b"\x00\xff" * 5000, b"SQLite"])
def test_a_file_of_another_kind_is_left_as_it_is(text: bytes, tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    path.write_bytes(text)
    refusal(path)
    assert path.read_bytes() == text


def test_a_folder_is_refused(tmp_path: Path) -> None:
    refusal(tmp_path)


def test_a_truncated_journal_is_refused_or_read_as_damaged(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite"
    journal = open_journal(path)
    session = begin(journal)
    for feed_id in range(1, 200):
        journal.intend(session, intent(feed_id))
    journal.close()
    whole = path.read_bytes()
    cut = whole[: len(whole) // 2]
    path.write_bytes(cut)
    with pytest.raises(FeedscriptError) as refused:
        read_whole(path)
    assert ".recover" in refused.value.diagnostic.help
    assert path.read_bytes() == cut


def test_a_locked_journal_says_who_must_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feedscript.journal.store.LOCK_WAIT_S", 0.05)
    path = tmp_path / "journal.sqlite"
    open_journal(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(FeedscriptError) as refused:
            open_journal(path)
        read_journal(path).close()  # reading waits for nobody
    assert "another program" in refused.value.diagnostic.help


@pytest.fixture
def sealed(tmp_path: Path) -> Iterator[Path]:
    """A journal in a folder that nobody may write to."""
    folder = tmp_path / "sealed"
    folder.mkdir()
    path = folder / "journal.sqlite"
    journal = open_journal(path)
    journal.intend(begin(journal), intent(1))
    journal.close()
    path.chmod(0o444)
    folder.chmod(0o555)
    yield path
    folder.chmod(0o755)


READER = """
import os, sys
from pathlib import Path
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import open_journal, read_journal
if os.geteuid() == 0:
    os.setuid({nobody})  # nothing is read-only to root
journal = read_journal(Path(sys.argv[1]))
print(len(journal.rows("SELECT * FROM ball")))
journal.close()
try:
    open_journal(Path(sys.argv[1]))
except FeedscriptError as refused:
    print(refused.diagnostic.help)
"""


def test_a_read_only_journal_is_read_and_not_run_on(sealed: Path, root: Path) -> None:
    for folder in sealed.parents:
        if folder.stat().st_uid == os.geteuid() and "pytest" in str(folder):
            folder.chmod(folder.stat().st_mode | 0o055)
    done = subprocess.run(
        [sys.executable, "-c", READER.format(nobody=NOBODY), str(sealed)],
        capture_output=True,
        text=True,
        cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)},
        check=False,
    )
    assert done.stdout.splitlines()[:1] == ["1"], done.stderr
    assert "writable" in done.stdout
