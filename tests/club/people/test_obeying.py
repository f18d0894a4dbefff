"""A court that was away for a week obeys when it hears: the name is in no byte of its journals."""

from __future__ import annotations

import shutil
from contextlib import closing
from pathlib import Path

import pytest

from feedscript.club.people.obey import obey
from feedscript.club.store.people import forgotten
from feedscript.club.store.store import Store
from feedscript.club.tombstones import Tombstone, Tombstones, name_hash
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.redaction import name_key
from feedscript.journal.retention import names_in
from feedscript.journal.store import open_journal
from tests.club.lessons import court
from tests.journal.test_keeping import NAME, write_everywhere

KEY = "5f" * 32


def stones(*names: str) -> Tombstones:
    told = [(name_hash(KEY, name_key(name)), len(name_key(name))) for name in names]
    return Tombstones(
        key=KEY,
        stones=tuple(
            Tombstone(number=number, name_hash=hashed, words=words)
            for number, (hashed, words) in enumerate(told, 1)
        ),
    )


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite"
    with closing(open_journal(path)) as journal:
        write_everywhere(journal)
    return path


def bytes_of(path: Path) -> bytes:
    return b"".join(one.read_bytes() for one in path.parent.glob(f"{path.name}*"))


def test_the_name_is_in_no_byte_of_any_journal_and_others_stay(path: Path) -> None:
    other = path.with_name("other.sqlite")
    shutil.copy(path, other)
    done = obey([path, other], stones("ZOË", "Somebody Else"))
    assert [one.journal for one in done] == [path, other]
    for one in (path, other):
        assert names_in(one) == {"Birch"}
        assert not [form for form in (NAME, "zoë", "ZOË") if form.encode() in bytes_of(one)]
    assert obey([path, other], stones("ZOË")) == []


def test_who_is_not_forgotten_is_not_touched(path: Path) -> None:
    before = path.read_bytes()
    assert obey([path], stones("Somebody Else", "Zo")) == []
    assert path.read_bytes() == before


def test_another_clubs_key_finds_nobody(path: Path) -> None:
    other = Tombstones(key="60" * 32, stones=stones(NAME).stones)
    assert obey([path], other) == []
    assert NAME in names_in(path)


def test_what_the_store_hands_out_is_obeyed(path: Path, store: Store) -> None:
    host = court(store).host
    forgotten.forget(store, "zoë", 20.0)
    with store.writing() as connection:
        told = forgotten.tombstones_for(connection, host)
    assert told is not None
    assert [one.names for one in obey([path], told)] == [1]


def test_a_journal_that_cannot_be_rewritten_is_told_and_not_passed_over(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feedscript.journal.store.LOCK_WAIT_S", 0.05)
    with closing(open_journal(path)) as reader, reader.together():
        reader.rows("SELECT COUNT(*) FROM session")
        with pytest.raises(FeedscriptError) as refused:
            obey([path], stones(NAME))
    assert refused.value.diagnostic.slug == "journal-unusable"
    assert [one.names for one in obey([path], stones(NAME))] == [1]
