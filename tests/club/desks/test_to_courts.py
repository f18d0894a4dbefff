"""A program is handed to a court, word for word, and lies in the court's own library until its
coach takes it back; what was changed there stays."""

from __future__ import annotations

import hashlib
from pathlib import Path

import anyio
import httpx
import msgspec
import pytest
from starlette.applications import Starlette

from feedscript.check.check_program import check_program
from feedscript.club.desks.to_courts import ToCourts, folders
from feedscript.club.handed import HandedProgram
from feedscript.club.link.door import Door, NotHeardError
from feedscript.club.link.programs import FOLDER, fetch_programs
from feedscript.club.store import programs
from feedscript.club.store.hosts import Joined
from feedscript.club.store.people import accounts, forgotten
from feedscript.club.store.programs import Program, TooMuchError
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role
from feedscript.own_library import own_programs
from tests.club.desks.stage import AtDesks, program
from tests.club.lessons import court
from tests.club.people.conftest import person


def hand(store: Store, who: Person, host: str, **told: str) -> None:
    with store.writing() as connection:
        handed = [Program(id=name, name=name, words=words) for name, words in told.items()]
        programs.hand_on(connection, who.id, host, handed, 9.0)


def fetch(store: Store, joined: Joined, library: Path) -> int:
    """As the court's computer does before each lesson."""

    async def asked() -> int:
        transport = httpx.ASGITransport(Starlette(routes=ToCourts(store).routes()))
        headers = {"Authorization": f"Bearer {joined.key}"}
        async with httpx.AsyncClient(
            transport=transport, base_url="http://club", headers=headers
        ) as client:
            return await fetch_programs(Door(client), library)

    return anyio.run(asked)


def files(library: Path) -> dict[str, str]:
    return {name: path.read_text() for name, path in own_programs(library).items()}


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A court's own."""
    return tmp_path / "library"


@pytest.fixture
def kim(store: Store) -> Person:
    return person(store, "kim", Role.COACH)


def test_what_is_handed_on_comes_down_once_and_goes_again(
    store: Store, kim: Person, library: Path
) -> None:
    one, other = court(store), court(store, "court two")
    assert fetch(store, one, library) == 0
    assert not library.exists()
    hand(store, kim, one.host, tuesday=program(), volleys="words")
    assert fetch(store, one, library) == 2
    assert files(library) == {
        "my/from-club/kim/tuesday": program(),
        "my/from-club/kim/volleys": "words",
    }
    assert fetch(store, one, library) == 0
    hand(store, kim, one.host, volleys="other words")
    assert fetch(store, one, library) == 1
    assert files(library)["my/from-club/kim/volleys"] == "other words"
    assert fetch(store, other, library / "other") == 0
    with store.writing() as connection:
        first = programs.handed_by(connection, kim.id)[0]
        assert not programs.take_back(connection, "somebody else", first.id)
        programs.take_everything_back(connection, kim.id)
    assert fetch(store, one, library) == 0
    assert files(library) == {}


def test_what_was_changed_at_the_court_stays_beside(
    store: Store, kim: Person, library: Path
) -> None:
    joined = court(store)
    hand(store, kim, joined.host, tuesday="one")
    fetch(store, joined, library)
    path = library / FOLDER / "kim" / "tuesday.feed"
    path.write_text("changed on court")
    assert fetch(store, joined, library) == 1
    hand(store, kim, joined.host, tuesday="two")
    path.write_text("changed again")
    assert fetch(store, joined, library) == 1
    with store.writing() as connection:
        accounts.withdraw(connection, kim.id, 20.0)
    path.write_text("and again")
    fetch(store, joined, library)
    assert sorted(files(library).values()) == ["and again", "changed again", "changed on court"]
    assert not path.exists()


def test_only_the_courts_own_key_fetches(store: Store, kim: Person, library: Path) -> None:
    joined = court(store)
    hand(store, kim, joined.host, secret="words")
    stranger = Joined(host=joined.host, key="guessed")
    with pytest.raises(Exception, match="key"):
        fetch(store, stranger, library)
    assert not library.exists()


@pytest.mark.parametrize(
    "bad",
    [
        {"folder": ".."},
        {"folder": "a/b"},
        {"name": "../../outside"},
        {"name": ".hidden"},
        {"sha256": "0" * 64},
        {"folder": "a\\b"},
    ],
)
def test_a_club_that_lies_writes_nothing_elsewhere(tmp_path: Path, bad: dict[str, str]) -> None:
    words = "words"
    good = {
        "folder": "kim",
        "name": "tuesday",
        "sha256": hashlib.sha256(words.encode()).hexdigest(),
    }
    told = msgspec.json.encode({"programs": [{**good, **bad, "words": words}]})

    async def asked() -> None:
        transport = httpx.MockTransport(lambda _request: httpx.Response(200, content=told))
        async with httpx.AsyncClient(transport=transport, base_url="http://club") as client:
            await fetch_programs(Door(client), tmp_path / "library")

    with pytest.raises(NotHeardError):
        anyio.run(asked)
    assert list(tmp_path.iterdir()) == []


def test_a_club_that_knows_nothing_of_programs_is_no_trouble(tmp_path: Path) -> None:
    async def asked() -> int:
        transport = httpx.MockTransport(lambda _request: httpx.Response(404))
        async with httpx.AsyncClient(transport=transport, base_url="http://club") as client:
            return await fetch_programs(Door(client), tmp_path)

    assert anyio.run(asked) == 0


def test_coaches_of_one_name_have_each_a_folder(store: Store) -> None:
    joined = court(store)
    coaches = [
        person(store, "kim", Role.COACH),
        person(store, "Kim.", Role.COACH),
        person(store, "../..", Role.COACH),
        person(store, "Zoë / \x00", Role.HEAD_COACH),
    ]
    for coach in coaches:
        hand(store, coach, joined.host, tuesday=coach.name)
    with store.reading() as connection:
        found = folders(programs.handed_to(connection, joined.host))
    assert sorted(found.values(), key=str.casefold)[0] == "coach"
    assert len({one.casefold() for one in found.values()}) == 4
    for name in found.values():
        msgspec.convert(
            {"folder": name, "name": "x", "sha256": "0" * 64, "words": ""}, HandedProgram
        )


def test_a_player_who_is_forgotten_goes_from_the_court_at_its_next_fetch(
    store: Store, kim: Person, library: Path
) -> None:
    joined = court(store)
    hand(store, kim, joined.host, **{"for Quatermain": "Quatermain"})
    fetch(store, joined, library)
    forgotten.forget(store, "Quatermain", 20.0)
    fetch(store, joined, library)
    assert not [one for one in library.rglob("*") if "uatermain" in str(one)]
    assert "Quatermain" not in "".join(files(library).values())


def test_a_court_has_so_many_of_one_coach(
    store: Store, kim: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(programs, "MOST_HANDED", 2)
    joined = court(store)
    hand(store, kim, joined.host, one="1", two="2")
    hand(store, kim, joined.host, one="again")
    with pytest.raises(TooMuchError):
        hand(store, kim, joined.host, three="3")


def test_from_the_page_to_the_court(stage: AtDesks, tmp_path: Path) -> None:
    """Only what passes, with what it uses; and what comes down passes there too."""
    kim = stage.page(stage.kim)
    uses = program("Uses").replace("title", 'use "drills.feed"\ntitle', 1)
    kim.save("drills", program("Drills"))
    kim.save("uses", uses)
    kim.save("broken", "feedscript 1\n")

    def to_court(name: str, court: str) -> httpx.Response:
        return kim.post(f"/mine/{name}/court", court=court)

    assert to_court("broken", stage.court.host).status_code == 409
    assert "does not pass the check" in to_court("broken", stage.court.host).text
    assert to_court("uses", "nowhere").status_code == 422
    assert to_court("nobody", stage.court.host).status_code == 404
    fetch(stage.store, stage.court, tmp_path)  # what other tests at these desks handed there
    done = to_court("uses", stage.court.host)
    assert "Handed to court one" in done.text
    assert "my/from-club/kim/uses" in done.text
    assert fetch(stage.store, stage.court, tmp_path) == 2
    path = tmp_path / FOLDER / "kim" / "uses.feed"
    assert check_program(path).ok
    kim.save("uses", uses + "\n", kim.get("/programs/uses").json()["version"])
    assert "an older version" in kim.get("/mine/uses").text
    assert fetch(stage.store, stage.court, tmp_path) == 0
    lee = stage.page(stage.lee)
    with stage.store.reading() as connection:
        handed = programs.handed_by(connection, stage.kim.id)
    for one in handed:
        assert lee.post(f"/handed/{one.id}/take-back").status_code == 404
        assert kim.post(f"/handed/{one.id}/take-back").status_code == 303
    fetch(stage.store, stage.court, tmp_path)
    assert files(tmp_path) == {}


def test_a_program_is_proposed_to_the_library_and_deleted(stage: AtDesks) -> None:
    kim, lee = stage.page(stage.kim), stage.page(stage.lee)
    kim.save("my best", program("Best"))
    for called, wrong in (("../x", "no name of a text"), ("", "no name of a text")):
        refused = kim.post("/mine/my best/propose", called=called, words="new")
        assert refused.status_code == 409
        assert wrong in refused.text
    done = kim.post("/mine/my best/propose", called="my_best", words="new")
    assert "Proposed as club/my_best" in done.text
    again = kim.post("/mine/my best/propose", called="my_best", words="new")
    assert again.status_code == 409
    there = lee.get("/api/library").json()["versions"]
    version = next(one for one in there if one["name"] == "my_best")
    assert version["author"] == "kim"
    assert "club/my_best" not in [one["name"] for one in lee.get("/programs").json()]
    approved = lee.client.post("/api/library/approve", json={"sha256": version["sha256"]})
    assert approved.status_code == 200
    assert "club/my_best" in [one["name"] for one in lee.get("/programs").json()]
    assert lee.get("/programs/club/my_best").json()["words"] == program("Best")
    assert lee.get("/played/club/my_best").status_code == 200
    assert kim.post("/mine/my best/delete", sure="other").status_code == 422
    assert lee.post("/mine/my best/delete", sure="my best").status_code == 404
    assert kim.post("/mine/my best/delete", sure="My Best").status_code == 303
    assert kim.get("/mine/my best").status_code == 404
    assert kim.get("/programs/my best/versions").status_code == 404
