"""What the rules say is old enough goes, and does not come back; what is younger stays."""

from __future__ import annotations

from feedscript.club.store.log import held, take_in
from feedscript.club.store.people import accounts, audit, families, players, tries
from feedscript.club.store.people.audit import Act
from feedscript.club.store.people.retention import (
    AUDIT_DAYS,
    DAY_S,
    LESSONS_DAYS,
    keep_days,
    kept_days,
    throw_away_old,
)
from feedscript.club.store.store import Store
from feedscript.club.who import Role
from tests.club.lessons import court
from tests.club.people.conftest import files_of, person
from tests.club.people.played import BEGUN_UTC_S, lesson

OLD = lesson("Quatermain")
NEW = lesson("Ben", name="2-0000beef", begun_utc_s=BEGUN_UTC_S + 100 * DAY_S)
NOW_UTC_S = BEGUN_UTC_S + 150 * DAY_S


def test_without_a_rule_everything_is_kept(store: Store) -> None:
    host = court(store).host
    take_in(store, host, [OLD, NEW], 9.0)
    assert throw_away_old(store, NOW_UTC_S).total() == 0
    with store.reading() as connection:
        assert players.whole(connection, host, OLD.lesson) is not None
        assert kept_days(connection, LESSONS_DAYS) == 0


def test_old_lessons_go_from_the_file_and_their_court_does_not_bring_them_back(
    store: Store,
) -> None:
    host = court(store).host
    take_in(store, host, [OLD, NEW], 9.0)
    with store.writing() as connection:
        keep_days(connection, LESSONS_DAYS, 90)
        keep_days(connection, LESSONS_DAYS, 100)
    assert throw_away_old(store, NOW_UTC_S)["lessons"] == 1
    assert b"Quatermain" not in files_of(store)
    take_in(store, host, [OLD], 20.0)
    assert held(store, host) == {OLD.lesson: len(OLD.events), NEW.lesson: len(NEW.events)}
    with store.reading() as connection:
        assert players.whole(connection, host, OLD.lesson) is None
        assert players.known_players(connection) == {"ben": "Ben"}
        kept = players.whole(connection, host, NEW.lesson)
        assert kept is not None
        assert kept.events == NEW.events


def test_old_readings_go_and_what_opens_nothing_any_more(store: Store) -> None:
    head = person(store, "head", Role.HEAD_COACH)
    with store.writing() as connection:
        audit.note(connection, 10 * DAY_S, head, Act.READ_RECORD, "Ada")
        audit.note(connection, 90 * DAY_S, head, Act.READ_RECORD, "Ben")
        keep_days(connection, AUDIT_DAYS, 30)
        token = accounts.begin(connection, head.id, 10.0, 20.0)
        families.make(connection, "Ada", head.id, 10.0, 99.0)
        families.make(connection, "Ben", head.id, 10.0, 99 * DAY_S)
        tries.note_wrong(connection, ["name:kim"], 10.0)
    assert throw_away_old(store, 100 * DAY_S)["readings"] == 1
    with store.reading() as connection:
        assert [one.player for one in audit.entries(connection, 9)] == [None, "Ben"]
        assert families.links_of(connection, "Ada") == []
        assert len(families.links_of(connection, "Ben")) == 1
        assert tries.wrong_since(connection, "name:kim", 0.0) == 0
    assert accounts.signed_in(store, token, 15.0) is None
