"""A coach's programs on the club's store: kept like those of a folder, each coach's own."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedscript.club.desks.folder import Copied
from feedscript.club.desks.programs import ClubPrograms
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.people.export import of_account
from feedscript.club.store import programs
from feedscript.club.store.people import accounts, forgotten
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role
from feedscript.desk.files import Clash, Text
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.redaction import FORGOTTEN
from feedscript.language.resolve.loading import MOST_BYTES
from tests.club.conftest import BOTH
from tests.club.desks.stage import program
from tests.club.lessons import court
from tests.club.people.conftest import files_of, person

Of = Callable[[Person], ClubPrograms]


@pytest.fixture
def shelf(store: Store) -> Shelf:
    return Shelf(store, ClubKey(Ed25519PrivateKey.generate()), lambda: 5.0)


@pytest.fixture
def of(store: Store, shelf: Shelf, tmp_path: Path) -> Of:
    def desk(of: Person) -> ClubPrograms:
        root = tmp_path / f"desk-{of.name}-{len(os.listdir(tmp_path))}"
        root.mkdir()
        return ClubPrograms(store, shelf, of.id, Copied(root), lambda: 9.0)

    return desk


def saved(done: Text | Clash) -> Text:
    assert isinstance(done, Text)
    return done


def slug(what: Callable[[], object]) -> str:
    with pytest.raises(FeedscriptError) as refused:
        what()
    return refused.value.diagnostic.slug


@BOTH
def test_words_are_saved_kept_and_had_again(store: Store, of: Of) -> None:
    mine = of(person(store, "kim", Role.COACH))
    first = saved(mine.save("my lesson", "one", ""))
    assert mine.read("my lesson") == first
    assert saved(mine.save("my lesson", "two", first.version)).words == "two"
    late = mine.save("my lesson", "late", first.version)
    assert isinstance(late, Clash)
    assert late.now.words == "two"
    newest, oldest = mine.versions("my lesson")
    assert [mine.version("my lesson", one.version).words for one in (newest, oldest)] == [
        "two",
        "one",
    ]
    assert newest.saved == "1970-01-01T00:00:09+00:00"
    assert [one.name for one in mine.listed() if not one.shipped] == ["my lesson"]


def test_nobody_opens_what_is_another_coachs_not_even_the_head_coach(store: Store, of: Of) -> None:
    kim, lee = person(store, "kim", Role.COACH), person(store, "lee", Role.COACH)
    head = person(store, "head", Role.HEAD_COACH)
    of(kim).save("secret", "hers", "")
    for other in (of(lee), of(head)):
        assert [one for one in other.listed() if not one.shipped] == []
        assert slug(partial(other.read, "secret")) == "no-such-program"
        assert slug(partial(other.versions, "secret")) == "no-such-program"
        assert slug(partial(other.version, "secret", "1")) == "no-such-program"
        saved(other.save("secret", "another of that name", ""))
    assert of(kim).read("secret").words == "hers"


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        "../kim",
        "/etc/passwd",
        "a/b",
        "a\\b",
        "a\x00",
        "x" * 81,
        ".history",
        "club/x",
    ],
)
def test_no_name_leads_elsewhere(store: Store, of: Of, name: str) -> None:
    mine = of(person(store, "kim", Role.COACH))
    refused = "no-such-program" if name.startswith("club/") else "bad-program-name"
    assert slug(lambda: mine.read(name)) == refused
    assert slug(lambda: mine.save(name, "words", "")) == "bad-program-name"


@pytest.mark.parametrize("words", ["a\x00b", "half \ud83d", "x" * (MOST_BYTES + 1)])
def test_what_no_store_keeps_is_refused(store: Store, of: Of, words: str) -> None:
    mine = of(person(store, "kim", Role.COACH))
    assert slug(lambda: mine.save("odd", words, "")) == "not-saved"
    assert [one for one in mine.listed() if not one.shipped] == []


def test_a_coach_has_so_much_and_no_more(
    store: Store, of: Of, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = of(person(store, "kim", Role.COACH))
    monkeypatch.setattr(programs, "MOST_LETTERS", 10)
    saved(mine.save("one", "x" * 6, ""))
    assert slug(lambda: mine.save("two", "x" * 5, "")) == "not-saved"
    saved(mine.save("two", "x" * 4, ""))
    monkeypatch.setattr(programs, "MOST_PROGRAMS", 2)
    assert slug(lambda: mine.save("three", "", "")) == "not-saved"
    monkeypatch.setattr(programs, "MOST_VERSIONS", 3)
    version = mine.read("two").version
    for number in range(6):
        version = saved(mine.save("two", str(number), version)).version
    assert [mine.version("two", one.version).words for one in mine.versions("two")] == [
        "5",
        "4",
        "3",
    ]


@BOTH
def test_two_tabs_that_save_at_once_are_not_both_taken(store: Store, of: Of) -> None:
    kim = person(store, "kim", Role.COACH)
    tabs = [of(kim), of(kim)]
    first = saved(tabs[0].save("one", "before", ""))
    done: list[Text | Clash] = []
    threads = [
        threading.Thread(target=lambda n=n: done.append(tabs[n].save("one", f"{n}", first.version)))
        for n in (0, 1)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(type(one).__name__ for one in done) == ["Clash", "Text"]


def test_the_folder_is_what_the_store_has(store: Store, of: Of) -> None:
    """Also what another server process saved or deleted."""
    kim = person(store, "kim", Role.COACH)
    here, there = of(kim), of(kim)
    there.save("volleys", "from another process", "")
    assert here.read("volleys").words == "from another process"
    with store.writing() as connection:
        found = programs.program_of(connection, kim.id, "volleys")
        assert found is not None
        programs.delete_program(connection, kim.id, found)
    assert slug(lambda: here.read("volleys")) == "no-such-program"


def test_texts_of_the_library_are_looked_at_once_they_are_approved(
    store: Store, shelf: Shelf, of: Of
) -> None:
    kim, lee = person(store, "kim", Role.COACH), person(store, "lee", Role.COACH)
    added = shelf.add("volleys", program(), "", lee)
    mine = of(kim)
    assert [one for one in mine.listed() if one.club] == []
    shelf.approve(added.sha256, "", kim)
    assert [(one.name, one.shipped) for one in mine.listed() if one.club] == [
        ("club/volleys", True)
    ]
    assert mine.read("club/volleys").words == program()
    shelf.withdraw(added.sha256, "too fast", lee)
    assert [one for one in mine.listed() if one.club] == []
    assert slug(lambda: mine.read("club/volleys")) == "no-such-program"


def test_who_is_forgotten_is_in_no_program_and_no_byte_of_the_store(store: Store, of: Of) -> None:
    kim = person(store, "kim", Role.COACH)
    mine = of(kim)
    version = saved(mine.save("Quatermain alone", 'group { player "Quatermain" }', "")).version
    saved(mine.save("Quatermain alone", 'player "QUATERMAIN" is here', version))
    host = court(store).host
    with store.writing() as connection:
        told = programs.programs_of(connection, kim.id)
        programs.hand_on(connection, kim.id, host, told, 9.0)
    forgotten.forget(store, "Quatermain", 20.0)
    assert b"uatermain" not in files_of(store).lower()
    name = f"{FORGOTTEN} alone"
    assert mine.read(name).words == f'player "{FORGOTTEN}" is here'
    assert [mine.version(name, one.version).words for one in mine.versions(name)] == [
        f'player "{FORGOTTEN}" is here',
        f'group {{ player "{FORGOTTEN}" }}',
    ]
    with store.reading() as connection:
        assert [one.name for one in programs.handed_to(connection, host)] == [name]


def test_two_names_that_become_one_by_forgetting_are_two_still(store: Store, of: Of) -> None:
    mine = of(person(store, "kim", Role.COACH))
    for name in ("Anna", "Bert"):
        mine.save(f"for {name}", name, "")
        forgotten.forget(store, name, 20.0)
    own = [one.name for one in mine.listed() if not one.shipped]
    assert sorted(own) == [f"for {FORGOTTEN}", f"for {FORGOTTEN} 2"]
    long = " ".join(["Al"] * 26)
    mine.save(long, "words", "")
    forgotten.forget(store, "Al", 20.0)
    assert all(mine.read(one.name) for one in mine.listed() if not one.shipped)


def test_who_leaves_leaves_nothing_at_courts_and_the_account_tells_all(
    store: Store, of: Of
) -> None:
    person(store, "head", Role.HEAD_COACH)
    kim = person(store, "kim", Role.COACH)
    of(kim).save("mine", "words", "")
    host = court(store).host
    with store.writing() as connection:
        own = programs.programs_of(connection, kim.id)
        programs.hand_on(connection, kim.id, host, own, 9.0)
    told = of_account(store, kim.id, 10.0)
    assert told is not None
    assert told["programs"] == [{"name": "mine", "words": "words"}]
    assert [one["name"] for one in told["handed_to_courts"]] == ["mine"]
    with store.writing() as connection:
        accounts.withdraw(connection, kim.id, 15.0)
        assert programs.handed_to(connection, host) == []
