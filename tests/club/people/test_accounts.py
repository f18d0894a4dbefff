"""Accounts, groups and families' links: what each opens, and what it does not."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from feedscript.club.store.people import accounts, families, groups
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role
from tests.club.people.conftest import files_of, group, person


def test_an_invitation_is_taken_up_once_and_in_time(store: Store) -> None:
    with store.writing() as connection:
        made = accounts.make(connection, " Kim@Club.example", "Kim", Role.COACH, 1.0)
        old = accounts.invite(connection, made.id, 100.0)
        code = accounts.invite(connection, made.id, 100.0)
        assert accounts.with_login(connection, "kim@club.example") is None
        assert accounts.take_up(connection, old, "$a", 50.0) is None
        assert accounts.take_up(connection, code, "$a", 100.5) is None
        assert accounts.take_up(connection, code, "$a", 99.0) == made
        assert accounts.take_up(connection, code, "$b", 99.0) is None
        assert accounts.with_login(connection, "KIM@club.example ") == (made, "$a")


def test_two_who_take_up_one_invitation_at_once_are_not_both_let_in(on_postgres: Store) -> None:
    with on_postgres.writing() as connection:
        made = accounts.make(connection, "kim", "Kim", Role.COACH, 1.0)
        code = accounts.invite(connection, made.id, 100.0)

    def take_up(password: str) -> Person | None:
        with on_postgres.writing() as connection:
            return accounts.take_up(connection, code, password, 50.0)

    with ThreadPoolExecutor(4) as pool:
        taken = [one for one in pool.map(take_up, "abcd") if one is not None]
    assert taken == [made]


def test_one_sign_in_name_is_one_account(store: Store) -> None:
    person(store, "kim", Role.COACH)
    with store.writing() as connection, pytest.raises(accounts.LoginTakenError):
        accounts.make(connection, "KIM@club.example", "Another", Role.COACH, 1.0)


def test_a_browser_is_signed_in_until_its_time_or_its_end(store: Store) -> None:
    kim = person(store, "kim", Role.COACH)
    with store.writing() as connection:
        token = accounts.begin(connection, kim.id, 10.0, 20.0)
        other = accounts.begin(connection, kim.id, 10.0, 20.0)
    assert accounts.signed_in(store, token, 19.0) == kim
    assert accounts.signed_in(store, token, 21.0) is None
    assert accounts.signed_in(store, "guessed", 19.0) is None
    accounts.end(store, token)
    assert accounts.signed_in(store, token, 19.0) is None
    assert accounts.signed_in(store, other, 19.0) == kim


def test_who_is_withdrawn_is_out_at_once_with_all_that_was_given(store: Store) -> None:
    person(store, "head", Role.HEAD_COACH)
    kim = person(store, "kim", Role.COACH)
    group(store, "red", ["Ada"], kim)
    with store.writing() as connection:
        token = accounts.begin(connection, kim.id, 10.0, 20.0)
        code = accounts.invite(connection, kim.id, 100.0)
        link = families.make(connection, "Ada", kim.id, 10.0, 99.0)
        assert groups.may_read(connection, kim, "Ada")
        assert accounts.withdraw(connection, kim.id, 15.0) == kim
        assert accounts.with_login(connection, "kim@club.example") is None
        assert accounts.take_up(connection, code, "$a", 16.0) is None
        assert families.opened(connection, link, 16.0) is None
        assert not groups.may_read(connection, kim, "Ada")
    assert accounts.signed_in(store, token, 16.0) is None
    assert person(store, "kim", Role.COACH).id != kim.id


def test_the_last_head_coach_stays(store: Store) -> None:
    one = person(store, "one", Role.HEAD_COACH)
    with store.writing() as connection:
        with pytest.raises(accounts.LastHeadCoachError):
            accounts.withdraw(connection, one.id, 9.0)
        accounts.make(connection, "invited", "Only invited", Role.HEAD_COACH, 1.0)
        with pytest.raises(accounts.LastHeadCoachError):
            accounts.withdraw(connection, one.id, 9.0)
    person(store, "two", Role.HEAD_COACH)
    with store.writing() as connection:
        assert accounts.withdraw(connection, one.id, 9.0) == one


def test_a_coach_sees_own_groups_the_head_coach_all_and_a_viewer_none(store: Store) -> None:
    head, kim, lee, viewer = (
        person(store, "head", Role.HEAD_COACH),
        person(store, "kim", Role.COACH),
        person(store, "lee", Role.COACH),
        person(store, "wall", Role.VIEWER),
    )
    group(store, "red", ["Ada", "Zoë B."], kim, viewer)
    group(store, "blue", ["Ben"], lee)
    with store.reading() as connection:
        seen = {
            one.name: [g.name for g in groups.groups_of(connection, one)] for one in (head, kim)
        }
        assert seen == {"head": ["blue", "red"], "kim": ["red"]}
        assert groups.groups_of(connection, viewer) == []
        for who, player, may in (
            *((head, "Ada", True), (head, "Nobody", True)),
            *((kim, "ADA", True), (kim, "Ada", True), (kim, "zoë_b", True), (kim, "Ben", False)),
            *((kim, "Ada B.", False), (kim, "", False), (kim, "!", False)),
            *((lee, "Ben", True), (lee, "Ada", False), (viewer, "Ada", False)),
        ):
            assert groups.may_read(connection, who, player) is may, (who.name, player)


def test_a_familys_link_opens_one_player_until_its_time_or_until_it_is_withdrawn(
    store: Store,
) -> None:
    head = person(store, "head", Role.HEAD_COACH)
    with store.writing() as connection:
        token = families.make(connection, "Ada", head.id, 10.0, 99.0)
        found = families.opened(connection, token, 50.0)
        assert found is not None
        assert (found.player, found.made_by) == ("Ada", "head")
        assert families.opened(connection, token, 99.5) is None
        assert families.opened(connection, token[:-1], 50.0) is None
        assert families.opened(connection, "", 50.0) is None
        families.withdraw(connection, found.id, 60.0)
        assert families.opened(connection, token, 61.0) is None
        assert [one.id for one in families.links_of(connection, "ada")] == [found.id]


def test_no_secret_lies_in_the_files(store: Store) -> None:
    head = person(store, "head", Role.HEAD_COACH)
    with store.writing() as connection:
        secret = [
            accounts.begin(connection, head.id, 10.0, 20.0),
            accounts.invite(connection, head.id, 99.0),
            families.make(connection, "Ada", head.id, 10.0, 99.0),
        ]
    written = files_of(store)
    assert b"head@club.example" in written
    assert not [one for one in secret if one.encode() in written]
