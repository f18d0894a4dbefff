"""The library on the server: who may add, approve and withdraw; what courts then fetch and use."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anyio
import httpx
import pytest
from sqlalchemy import update
from starlette.testclient import TestClient

from feedscript.club.library.look import Looks
from feedscript.club.library.routes import LibraryRoutes
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey, club_key
from feedscript.club.link.fetch import fetch
from feedscript.club.link.library import FetchedNow
from feedscript.club.link.membership import Membership
from feedscript.club.messages import HOST_LIBRARY, LIBRARY
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store.library_tables import LIBRARY_CHANGE, LIBRARY_TEXT
from feedscript.club.store.store import Store
from feedscript.club_library import VARIABLE, LibraryError, read_text
from feedscript.diagnostics import FeedscriptError
from tests.club.conftest import BOTH
from tests.club.lessons import court
from tests.club.library.signed import KEY
from tests.club.server.stage import as_, next_of, socket_of, who

PAIR = """feedscript 1
title "A pair of volleys"
court { surface hard }
balls { type 2 }
launcher { stands 1 m behind centre mark }
feed easy { land 2 m beyond service line, on centre line  speed 70 km/h }
pattern pair() {
    send easy after 4 s
    send easy after 4 s
}
lesson { show speed of easy  pair() }
"""
FASTER = PAIR.replace("70 km/h", "75 km/h")


@pytest.fixture
def club(store: Store) -> TestClient:
    made = Club(store, who)
    shelf = Shelf(store, ClubKey(KEY), lambda: 1.8e9)
    return TestClient(make_app(made, ["testserver"], LibraryRoutes(made, shelf, Looks()).routes()))


def post(club: TestClient, role: str, what: str, **body: str) -> httpx.Response:
    path = LIBRARY if what == "add" else f"{LIBRARY}/{what}"
    return club.post(path, json=body, headers=as_(role))


def add(club: TestClient, text: str = PAIR, role: str = "coach", name: str = "pair") -> str:
    answer = post(club, role, "add", name=name, text=text, words="for beginners")
    assert answer.status_code == 200, answer.text
    return str(answer.json()["sha256"])


def approved(club: TestClient, text: str = PAIR) -> str:
    found = add(club, text)
    assert post(club, "head-coach", "approve", sha256=found).status_code == 200
    return found


def shown(club: TestClient) -> Any:
    return club.get(LIBRARY, headers=as_("coach")).json()


@BOTH
def test_a_text_is_added_approved_and_withdrawn_and_all_of_it_is_shown(club: TestClient) -> None:
    first = approved(club)
    second = add(club, FASTER)
    assert shown(club)["current"] == {"pair": first}
    post(club, "head-coach", "approve", sha256=second, words="seen on court 2")
    post(club, "coach", "withdraw", sha256=second, words="too fast for them")
    told = shown(club)
    assert told["current"] == {"pair": second}
    assert [one["kind"] for one in told["changes"]] == [
        "added", "approved", "added", "approved", "withdrawn",
    ]  # fmt: skip
    assert [one["withdrawn"] for one in told["versions"]] == ["", "too fast for them"]
    assert told["versions"][0]["approved_by"] == ["the head-coach"]
    assert club.get(f"{LIBRARY}/{second}", headers=as_("coach")).text == FASTER


def test_an_author_does_not_approve_but_a_head_coach_may(club: TestClient) -> None:
    own = add(club)
    assert post(club, "coach", "approve", sha256=own).status_code == 409
    assert post(club, "head-coach", "approve", sha256=add(club, FASTER, "head-coach")).is_success


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"name": "pair", "text": PAIR.replace("70 km/h", "700 km/h")}, "does not pass"),
        ({"name": "pair", "text": "no program"}, "does not pass"),
        ({"name": "../pair", "text": PAIR}, "no name"),
        ({"name": "Pair", "text": PAIR}, "no name"),
        ({"name": "p" * 61, "text": PAIR}, "no name"),
    ],
)
def test_what_is_no_good_text_is_not_taken(club: TestClient, body: Any, said: str) -> None:
    answer = post(club, "coach", "add", **body)
    assert answer.status_code == 409
    assert said in answer.json()["diagnostic"]["message"]
    assert bool(answer.json()["found"]) == ("pass" in said)  # what the check says of it
    assert shown(club)["changes"] == []


def test_the_same_text_is_not_taken_twice_and_no_fault_goes_without_words(
    club: TestClient,
) -> None:
    found = approved(club)
    assert post(club, "coach", "add", name="other", text=PAIR).status_code == 409
    assert post(club, "coach", "withdraw", sha256=found, words=" ").status_code == 409
    assert post(club, "coach", "withdraw", sha256="0" * 64, words="x").status_code == 409
    assert len(shown(club)["changes"]) == 2


@pytest.mark.parametrize(("role", "status"), [("nobody", 401), ("viewer", 403)])
def test_coaches_alone_see_and_change_it(club: TestClient, role: str, status: int) -> None:
    assert club.get(LIBRARY, headers=as_(role)).status_code == status
    assert club.get(f"{LIBRARY}/compare?one=&other=", headers=as_(role)).status_code == status
    for what in ("add", "approve", "withdraw"):
        assert post(club, role, what, name="pair", text=PAIR).status_code == status
    assert club.get(HOST_LIBRARY, headers=as_("coach")).status_code == 401


def test_a_page_of_the_server_reads_it_and_no_foreign_one(club: TestClient) -> None:
    """A browser names no origin when a page reads from its own server."""
    assert club.get(LIBRARY, headers={"x-role": "coach"}).status_code == 200
    foreign = {"x-role": "coach", "Origin": "http://elsewhere"}
    assert club.get(LIBRARY, headers=foreign).status_code == 403
    nameless = club.post(LIBRARY, json={"name": "pair", "text": PAIR}, headers={"x-role": "coach"})
    assert nameless.status_code == 403


def test_two_texts_are_compared_in_words_bounds_and_pictures(club: TestClient) -> None:
    one, other = add(club), add(club, FASTER)
    told = club.get(f"{LIBRARY}/compare?one={one}&other={other}", headers=as_("coach")).json()
    changed = [line["text"] for line in told["words"] if line["mark"] != " "]
    assert [("70 km/h" in line, "75 km/h" in line) for line in changed] == [
        (True, False), (False, True),
    ]  # fmt: skip
    slower, faster = told["bounds"]
    assert slower["balls"] == faster["balls"] == [3, 3]
    assert faster["fastest_mps"] - slower["fastest_mps"] == pytest.approx(5 / 3.6, abs=0.02)
    assert slower["margins"].keys() == faster["margins"].keys() != set()
    assert all(picture.startswith("<svg") for picture in told["pictures"])
    assert told["pictures"][0] != told["pictures"][1]
    nothing = club.get(f"{LIBRARY}/compare?one={one}&other=x", headers=as_("coach"))
    assert nothing.status_code == 404


def test_courts_are_told_at_once_that_there_is_something_to_fetch(
    club: TestClient, store: Store
) -> None:
    with club, socket_of(club, court(store)) as host:
        host.send_json({"type": "alive"})
        next_of(host, "here")
        add(club)
        assert next_of(host, "fetch")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "court"))
    return tmp_path / "court"


def fetched(club: TestClient, store: Store) -> FetchedNow:
    member = Membership(url="http://testserver", host="", key=court(store).key, name="court")

    async def main() -> FetchedNow:
        return await fetch(member, 30.0, httpx.ASGITransport(club.app))

    return anyio.run(main)


def test_a_court_fetches_what_it_may_use_and_hears_what_was_withdrawn(
    club: TestClient, store: Store, folder: Path
) -> None:
    first = approved(club)
    add(club, FASTER)
    assert fetched(club, store) == FetchedNow(texts=1, withdrawn=())
    assert read_text(folder, "pair", 10_000)[1] == PAIR.encode()
    assert fetched(club, store).texts == 0
    (kept,) = folder.glob("*.feed")
    kept.write_text("spoiled")
    assert fetched(club, store).texts == 1
    post(club, "coach", "withdraw", sha256=first, words="too fast for them")
    (told,) = fetched(club, store).withdrawn
    assert (told.name, told.withdrawn) == ("pair", "too fast for them")
    with pytest.raises(LibraryError, match="too fast for them"):
        read_text(folder, "pair", 10_000)


@pytest.mark.parametrize(
    "forged",
    [
        update(LIBRARY_CHANGE).values(words="changed"),
        update(LIBRARY_CHANGE).where(LIBRARY_CHANGE.c.kind == "added").values(kind="approved"),
        LIBRARY_CHANGE.delete().where(LIBRARY_CHANGE.c.number == 1),
        update(LIBRARY_TEXT).values(text=b"feedscript 1\n"),
    ],
)
def test_who_can_write_the_store_can_pass_no_text_for_the_clubs(
    club: TestClient, store: Store, folder: Path, forged: Any
) -> None:
    approved(club)
    with store.writing() as connection:
        connection.execute(forged)
    with pytest.raises(FeedscriptError) as refused:
        fetched(club, store)
    assert refused.value.diagnostic.slug == "club-library-not-fetched"
    assert not folder.exists()


def test_the_clubs_key_is_made_once_and_kept_for_its_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "new" / "library.key"
    assert club_key(path).public == club_key(path).public
    assert path.stat().st_mode & 0o777 == 0o600
    path.write_text("no key")
    with pytest.raises(FeedscriptError) as refused:
        club_key(path)
    assert refused.value.diagnostic.slug == "club-library-key"
    assert path.read_text() == "no key"
