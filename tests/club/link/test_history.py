"""A court's players' lessons on other courts come down to it, and nobody else's name."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import msgspec
import pytest

from feedscript.club.batch import Event, Part
from feedscript.club.link.history import history_path
from feedscript.club.store.log import take_in
from feedscript.club.store.people import audit, forgotten
from feedscript.journal.queries import session_numbers
from feedscript.journal.store import read_journal
from feedscript.review.record.history import history_of
from tests.club.link.away import Court, bytes_of
from tests.club.overview.courts import rehearsed

#: One of those who play at the two stations of the shipped program, under a longer name.
MINE, OTHER = "Wren Ash", "Tern Bay"


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Part:
    """A real lesson of court two, in which Wren Ash and Tern Bay played with four others."""
    part = rehearsed(tmp_path_factory.mktemp("rehearsed"), "side-by-side")
    text = msgspec.json.encode(part).decode()
    for letter, name in (("E", MINE), ("B", OTHER)):
        text = text.replace(f'\\"{letter}\\"', f'\\"{name}\\"')
    named = msgspec.json.decode(text, type=Part)
    assert named.header is not None
    header = msgspec.structs.replace(named.header, rehearsal=False)
    return Part(lesson=named.lesson, header=header, events=named.events)


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lesson: Part) -> Iterator[Court]:
    for variable in ("XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(variable, str(tmp_path / variable))
    made = Court(tmp_path)
    take_in(made.store, made.two.host, [lesson], 9.0)
    yield made
    made.store.close()


def test_what_my_player_did_elsewhere_comes_with_no_other_name(club: Court, tmp_path: Path) -> None:
    club.played_here(MINE)
    assert club.pushes().fetched == 1
    assert club.pushes().fetched == 0
    there = history_of((club.usual, history_path(club.usual)), MINE)
    assert sum(len(one.balls) for one in there.lessons) > 10
    found = bytes_of(tmp_path).count(OTHER.encode())
    in_store = (tmp_path / "club.sqlite").read_bytes().count(OTHER.encode())
    beside = (tmp_path / "club.sqlite-wal").read_bytes().count(OTHER.encode())
    assert found == in_store + beside  # in the club's own store alone
    with club.store.reading() as connection:
        noted = audit.entries(connection, 10)
    assert [(one.who, one.act, one.player) for one in noted if one.player] == [
        ("court one", "read-record", MINE)
    ]


def test_who_never_played_here_is_no_business_of_this_court(club: Court) -> None:
    club.played_here("Somebody Else")
    assert club.pushes().fetched == 0
    assert not history_path(club.usual).exists()


@pytest.mark.long
def test_a_lesson_that_went_on_takes_the_place_of_what_there_was(club: Court, lesson: Part) -> None:
    club.played_here(MINE)
    club.pushes()
    last = lesson.events[-1]
    for number, kind in ((last.number + 1, "sync-tone"), (last.number + 2, last.kind)):
        data = last.data if kind == last.kind else json.dumps({"by": "phone"})
        more = Event(number=number, utc_s=last.utc_s, kind=kind, launcher=None, data=data)
        take_in(club.store, club.two.host, [Part(lesson=lesson.lesson, events=(more,))], 9.0)
        assert club.pushes().fetched == (kind == "ended")
    with closing(read_journal(history_path(club.usual))) as journal:
        assert len(session_numbers(journal)) == 1


@pytest.mark.long
def test_a_lost_note_of_what_was_fetched_fetches_it_anew(club: Court) -> None:
    club.played_here(MINE)
    club.pushes()
    history_path(club.usual).with_name("from-club.json").unlink()
    assert club.pushes().fetched == 1
    with closing(read_journal(history_path(club.usual))) as journal:
        assert len(session_numbers(journal)) == 1


def test_whoever_is_forgotten_is_forgotten_there_too(club: Court) -> None:
    club.played_here(MINE)
    club.pushes()
    assert MINE.encode() in history_path(club.usual).read_bytes()
    forgotten.forget(club.store, MINE, 20.0)
    club.forgets()
    assert MINE.encode() not in bytes_of(club.usual.parent)
