"""A player forgotten is nowhere in the store any more, and does not come back from a court that has
not heard."""

from __future__ import annotations

import hashlib
import re
import subprocess
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from click.testing import CliRunner
from sqlalchemy import select

from feedscript.cli import verbs
from feedscript.club.store import library
from feedscript.club.store.log import Position, after, held, take_in
from feedscript.club.store.people import audit, families, forgotten, groups, players
from feedscript.club.store.people.audit import Act
from feedscript.club.store.people.tables import TOMBSTONE
from feedscript.club.store.store import Store, open_store
from feedscript.club.tombstones import FORGOTTEN as FORGOTTEN_AT
from feedscript.club.tombstones import name_hash
from feedscript.club.who import Role
from feedscript.club_library import Change, Kind
from feedscript.journal.redaction import FORGOTTEN, name_key
from tests.club.conftest import PROGRAMS, Postgres
from tests.club.lessons import court
from tests.club.own_postgres import own_postgres
from tests.club.people.conftest import files_of, group, person
from tests.club.people.played import lesson
from tests.club.people.stage import Stage

NAME = "Zoë Quatermain"
#: However it may be written; in UTF-8, in UTF-16, and as JSON escapes it.
WRITTEN = [
    one.encode(form)
    for one in ("Quatermain", "quatermain", "QUATERMAIN", "Zoë", "Zoe\u0308", "zoë", "Zo\\u00eb")
    for form in ("utf-8", "utf-16-le")
]


def play(store: Store) -> tuple[str, str]:
    """The player stands in everything that a store has a place for; two courts."""
    head = person(store, "head", Role.HEAD_COACH)
    one, other = court(store).host, court(store, "court two").host
    take_in(store, one, [lesson(NAME, "Ben", title=f"{NAME}'s hour")], 9.0)
    take_in(store, other, [lesson("ZOE\u0308 QUATERMAIN", name="2-0000beef")], 9.0)
    group(store, f"with {NAME}", [NAME, "Ben"], head)
    with store.writing() as connection:
        families.make(connection, NAME, head.id, 10.0, 99.0)
        audit.note(connection, 11.0, head, Act.READ_RECORD, NAME, f"for {NAME}'s mother")
    return one, other


def everything(store: Store) -> str:
    events = after(store, Position(), 10_000).events
    return "".join(one.event.data for one in events)


def test_what_was_written_of_the_player_is_in_no_byte_of_the_file(store: Store) -> None:
    play(store)
    assert [one for one in WRITTEN if one in files_of(store)]
    changed = forgotten.forget(store, NAME, 20.0)
    assert [one for one in WRITTEN if one in files_of(store)] == []
    assert changed["event"] > 20
    assert changed["lesson"] == 2
    assert FORGOTTEN in everything(store)
    assert "Ben" in everything(store)
    with store.reading() as connection:
        assert players.lessons_with(connection, NAME) == []
        assert families.links_of(connection, NAME) == []
        assert [one.players for one in groups._read(connection)] == [("Ben",)]
        assert [one.who for one in audit.entries(connection, 9)] == ["head"]


def test_what_was_written_of_the_player_is_in_no_dump_and_no_table_of_postgresql(
    on_postgres: Store, postgres: Postgres
) -> None:
    play(on_postgres)
    with on_postgres.writing() as connection:
        connection.exec_driver_sql("ANALYZE")  # samples of the values, as it takes by itself

    def found() -> list[bytes]:
        with on_postgres.reading() as connection:
            connection.exec_driver_sql("CHECKPOINT")
        database = str(on_postgres.name.partition("@/")[2].partition("?")[0])
        command = [PROGRAMS[-1] / "pg_dump", postgres.address(database)]
        dump = subprocess.run(command, check=True, capture_output=True).stdout
        with on_postgres.reading() as connection:
            ours = connection.exec_driver_sql(
                "SELECT pg_relation_filepath(c.oid) FROM pg_class c JOIN pg_namespace n"
                " ON n.oid = c.relnamespace WHERE c.relkind IN ('r', 'i', 't')"
                " AND (n.nspname = 'public' OR n.nspname = 'pg_toast')"
            )
            files = [postgres.folder / "data" / one for (one,) in ours if one]
        raw = b"".join(one.read_bytes() for one in files if one.exists())
        assert b"invented" in dump
        return [one for one in WRITTEN if one in dump + raw]

    assert found()
    forgotten.forget(on_postgres, NAME, 20.0)
    assert found() == []


@pytest.mark.long
def test_it_is_in_no_byte_of_postgresql_where_its_log_is_not_kept() -> None:
    """Its write-ahead log too: set so that it removes what it needs no more, with no archive."""
    with own_postgres("wal_recycle=off") as server:

        def found() -> set[str]:
            files = [one for one in (server.folder / "data").rglob("*") if one.is_file()]
            holds = (one for one in files if any(name in one.read_bytes() for name in WRITTEN))
            return {one.relative_to(server.folder / "data").parts[0] for one in holds}

        with closing(open_store(server.new_database())) as store:
            play(store)
            with store.reading() as connection:
                connection.exec_driver_sql("CHECKPOINT")
            assert found() >= {"base", "pg_wal"}
            forgotten.forget(store, NAME, 20.0)
            assert found() == set()


@pytest.mark.long
def test_a_role_that_may_not_end_the_log_forgets_all_the_same() -> None:
    with own_postgres() as server:
        address = server.new_database()
        name = address.partition("@/")[2].partition("?")[0]
        with closing(psycopg.connect(server.address("postgres"), autocommit=True)) as asked:
            asked.execute("CREATE ROLE club LOGIN")
            asked.execute(f"ALTER DATABASE {name} OWNER TO club")
        with closing(open_store(address.replace(f"//{server.user}@", "//club@"))) as store:
            play(store)
            forgotten.forget(store, NAME, 20.0)
            assert "Quatermain" not in everything(store)


def test_a_court_that_has_not_heard_brings_nothing_back(store: Store) -> None:
    one, other = play(store)
    forgotten.forget(store, NAME, 20.0)
    late = lesson(NAME, "Ben", name="7-0000beef", title=f"{NAME} again")
    assert take_in(store, other, [late], 30.0) == {"7-0000beef": len(late.events)}
    assert not [name for name in ("Zo", "Quatermain") if name in everything(store)]
    with store.reading() as connection:
        kept = players.whole(connection, other, "7-0000beef")
        assert kept is not None
        assert kept.head.title == f"{FORGOTTEN} again"
        assert players.known_players(connection) == {"ben": "Ben"}
        assert forgotten.not_heard(connection) == ["court one", "court two"]
    again = lesson(NAME, "Ben", title=f"{NAME}'s hour")
    assert take_in(store, one, [again], 30.0) == {"1-0000beef": len(again.events)}


def test_after_it_has_heard_a_new_player_may_be_called_so(store: Store) -> None:
    one, other = play(store)
    forgotten.forget(store, NAME, 20.0)
    with store.writing() as connection:
        stones = forgotten.tombstones_for(connection, other)
        assert stones is not None
        assert list(stones.names_in(f"an hour with {NAME.upper()} alone")) == [NAME.upper()]
        assert not forgotten.obey(connection, other, stones.last + 1, 30.0)
        assert forgotten.obey(connection, other, stones.last, 30.0)
        assert forgotten.tombstones_for(connection, other) is None
        assert forgotten.not_heard(connection) == ["court one"]
    new = lesson(NAME, name="8-0000beef")
    take_in(store, other, [new], 40.0)
    with store.reading() as connection:
        assert players.lessons_with(connection, NAME) == [(other, "8-0000beef")]
    assert held(store, one)


def test_another_player_whose_name_begins_alike_stays(store: Store) -> None:
    host = court(store).host
    take_in(store, host, [lesson("Ann", "Ann Lee", "Annabel")], 9.0)
    forgotten.forget(store, "Ann", 20.0)
    with store.reading() as connection:
        assert set(players.known_players(connection).values()) == {"Ann Lee", "Annabel"}
    assert "Ann Lee is on" in everything(store)
    assert f"{FORGOTTEN} is on" in everything(store)


@pytest.mark.parametrize("letter", ["A", "a.", "", "?", " "])
def test_a_single_letter_is_nobody_in_a_whole_club(store: Store, letter: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(letter)}$"):
        forgotten.forget(store, letter, 20.0)


@pytest.mark.parametrize(
    "odd", ["\x00", "a\x00b", "x" * 900, "Robin'); DROP TABLE event; --", "\u202eevil", "<b>&"]
)
def test_odd_names_are_text_and_break_nothing(store: Store, on_postgres: Store, odd: str) -> None:
    part = lesson(odd)
    for one in (store, on_postgres):
        host = court(one).host
        assert take_in(one, host, [part], 9.0) == {part.lesson: len(part.events)}
        with one.reading() as connection:
            known = players.known_players(connection)
        assert "\x00" not in "".join(known.values())
        assert len(known) == (0 if len(odd) > 80 or odd == "\x00" else 1)


@pytest.mark.parametrize("name", ["Al", "Ann Lee"])
def test_a_name_that_fills_its_place_again_and_again_is_forgotten(
    store: Store, on_postgres: Store, name: str
) -> None:
    """As long as a page and a court may make them, and longer with what stands for the name."""
    full = " ".join([name] * 30)[:80].strip()
    for one in (on_postgres, store):
        head = person(one, "head", Role.HEAD_COACH)
        court(one, full)
        group(one, full, [name, f"{name} Quatermain"], head)
        forgotten.forget(one, name, 20.0)
        with one.reading() as connection:
            (told,) = groups._read(connection)
            courts = forgotten.not_heard(connection)
        assert told.players == (f"{name} Quatermain",)
        for told_name, room in ((told.name, 80), (courts[0], 200)):
            assert told_name.startswith(f"{FORGOTTEN} {FORGOTTEN}")
            assert len(told_name) <= room
            assert name not in told_name


def test_what_forgetting_left_in_the_file_without_sweeping_would_be_found(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The search finds what only the sweep takes away."""
    play(store)
    monkeypatch.setattr(Store, "sweep", lambda self: None)
    forgotten.forget(store, NAME, 20.0)
    assert [one for one in WRITTEN if one in files_of(store)]


def test_a_longer_name_stays_in_what_comes_from_a_court_that_has_not_heard(store: Store) -> None:
    host = court(store).host
    forgotten.forget(store, "Ann", 20.0)
    take_in(store, host, [lesson("Ann", "Ann Lee")], 30.0)
    assert "Ann Lee is on" in everything(store)
    assert f"{FORGOTTEN} is on" in everything(store)
    assert '"Ann"' not in everything(store)


def test_the_librarys_signed_record_is_left_and_the_head_coach_is_told(store: Store) -> None:
    change = Change(
        number=1,
        kind=Kind.ADDED,
        name="wide-forehand",
        sha256=hashlib.sha256(b"# as Quatermain plays it").hexdigest(),
        by="Kim",
        utc_s=9.0,
        words="new",
    )
    library.append(store, lambda _before: change, b"# as Quatermain plays it")
    forgotten.forget(store, "Quatermain", 20.0)
    assert library.changes(store) == (change,)
    assert forgotten.in_library(store, "quatermain") == ["wide-forehand"]
    assert forgotten.in_library(store, "Zebedee") == []


def test_the_clubs_key_goes_to_courts_and_to_nobody_else(store: Store, tmp_path: Path) -> None:
    """Whoever has it and a tombstone can try names; who has only one of them can try nothing."""
    stage = Stage(store)
    forgotten.forget(store, "Ben", 20.0)
    with store.writing() as connection:
        key = forgotten.tombstone_key(connection)
        (stone,) = connection.execute(select(TOMBSTONE.c.name_hash)).scalars()
    assert name_hash(key, name_key("ben")) == stone
    assert name_hash("00" * 32, name_key("ben")) != stone  # without the key a guess tells nothing
    head, kim = stage.browser(stage.head), stage.browser(stage.kim)
    told = [head.get(place).text for place in ("/people", "/keeping", "/audit", "/groups")]
    told += [browser.get("/me/export").text for browser in (head, kim)]
    told += [head.get(f"{stage.at('Ada')}/{what}").text for what in ("", "record", "export")]
    done = CliRunner().invoke(
        verbs, ["club", "export", "--store", store.name, "-o", str(tmp_path / "out.sqlite")]
    )
    assert done.exit_code == 0, done.output
    written = (tmp_path / "out.sqlite").read_bytes().decode("latin-1")
    assert not [one for one in (*told, written) if key in one or stone in one]
    asks = {"Authorization": f"Bearer {stage.court.key}"}
    assert stage.browser().get(FORGOTTEN_AT, headers=asks).json()["key"] == key
    assert stage.browser().get(FORGOTTEN_AT).status_code == 401
