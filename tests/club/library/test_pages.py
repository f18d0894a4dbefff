"""The library's pages: who sees what, what a form does, and what strangers write into it."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from starlette.testclient import TestClient

from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.server.serve import pages_of
from feedscript.club.store.store import Store
from feedscript.club.who import Role
from feedscript.club_library import Kind
from feedscript.shipped import shipped_profiles
from tests.club.lessons import court
from tests.club.library.signed import KEY
from tests.club.library.test_shelf import FASTER, PAIR
from tests.club.server.stage import PEOPLE, as_, next_of, socket_of, who

GARAGE = shipped_profiles()["garage.toml"].read_text("utf-8")
HOSTILE = "<script>alert(1)</script> & \u202egnp"


@pytest.fixture
def club(store: Store) -> TestClient:
    made = Club(store, who)
    app = make_app(made, ["testserver"], pages_of(made, ClubKey(KEY)))
    return TestClient(app, follow_redirects=False)


@pytest.fixture
def shelf(store: Store) -> Shelf:
    return Shelf(store, ClubKey(KEY), lambda: 1.8e9)


def put(shelf: Shelf, text: str = PAIR, name: str = "pair", role: Role = Role.COACH) -> str:
    return shelf.add(name, text, "for beginners", PEOPLE[role]).sha256


def send(club: TestClient, role: str, path: str, **fields: str) -> tuple[int, str]:
    answer = club.post(
        path,
        content=urlencode(fields),
        headers=as_(role) | {"Content-Type": "application/x-www-form-urlencoded"},
    )
    return answer.status_code, answer.headers.get("location", answer.text)


def seen(club: TestClient, path: str, role: str = "coach") -> str:
    answer = club.get(path, headers=as_(role))
    assert answer.status_code == 200, answer.text
    return answer.text


def test_a_text_goes_from_the_form_to_every_court(club: TestClient, shelf: Shelf) -> None:
    form = {"name": "pair", "words": "for beginners", "text": PAIR.replace("\n", "\r\n")}
    status, its = send(club, "coach", "/library", **form)
    assert status == 303
    assert shelf.text(its.rpartition("/")[2]) == PAIR.encode()  # a browser's ends of lines are not
    assert "To be looked at" in seen(club, "/library")
    assert "Somebody else approves what you have written" in seen(club, its)
    assert send(club, "coach", f"{its}/approve", **{"approve-words": ""})[0] == 409
    assert send(club, "head-coach", f"{its}/approve", **{"approve-words": "seen it"})[0] == 303
    page = seen(club, its)
    assert "In use on the courts." in page
    assert "the head-coach approved it" in page
    assert "Programs and patterns in use" in seen(club, "/library")


def test_somebody_says_a_word_and_nothing_else_comes_of_it(club: TestClient, shelf: Shelf) -> None:
    its = f"/library/texts/{put(shelf)}"
    said = {"look-words": "say where the second one lands"}
    assert send(club, "head-coach", f"{its}/look-at", **said)[0] == 303
    assert "say where the second one lands" in seen(club, its)
    assert "It waits for somebody to look at it" in seen(club, its)
    assert send(club, "coach", f"{its}/look-at", **{"look-words": " "})[0] == 409
    assert [one.kind for one in shelf.changes()] == [Kind.ADDED, Kind.LOOKED_AT]


def test_a_withdrawal_needs_words_and_is_shown_first(club: TestClient, shelf: Shelf) -> None:
    sha256 = put(shelf)
    shelf.approve(sha256, "", PEOPLE[Role.HEAD_COACH])
    its = f"/library/texts/{sha256}"
    assert send(club, "coach", f"{its}/withdraw", **{"withdraw-words": ""})[0] == 409
    assert send(club, "coach", f"{its}/withdraw", **{"withdraw-words": "too fast"})[0] == 303
    listed = seen(club, "/library")
    assert listed.index("Withdrawn: no court begins a lesson with it") < listed.index("too fast")
    assert "Programs and patterns in use" not in listed
    assert "Withdrawn: too fast" in seen(club, its)


def test_what_the_check_refuses_comes_back_with_its_lines(club: TestClient) -> None:
    bad = PAIR.replace("70 km/h", "700 km/h")
    form = {"name": "pair", "words": "w", "text": bad}
    status, page = send(club, "coach", "/library", **form)
    assert status == 422
    assert "does not pass the check" in page
    assert "Line 6:" in page
    assert "700 km/h" in page  # what was written stays in the form
    form = {"name": "garage.toml", "words": "w", "text": GARAGE.replace("0.200", '"wide"')}
    status, page = send(club, "coach", "/library", **form)
    assert status == 422
    assert "the profile has mistakes" in page


def test_two_versions_are_set_beside_each_other(club: TestClient, shelf: Shelf) -> None:
    one, other = put(shelf), put(shelf, FASTER)
    assert f"/library/compare?one={one}&amp;other={other}" in seen(club, f"/library/texts/{other}")
    page = seen(club, f"/library/compare?one={one}&other={other}")
    assert "70 km/h" in page
    assert "net-clearance" in page
    assert "<del>" in page
    for sha256 in (one, other):
        picture = club.get(f"/library/texts/{sha256}/picture.svg", headers=as_("coach"))
        assert picture.headers["content-type"] == "image/svg+xml"
        assert picture.text.startswith("<svg")
        assert "script-src" not in picture.headers["content-security-policy"]


def test_two_profiles_show_the_numbers_that_differ(club: TestClient, shelf: Shelf) -> None:
    tuned = GARAGE.replace("elevation_offset_deg = 0.0", "elevation_offset_deg = 0.6")
    one, other = put(shelf, GARAGE, "garage.toml"), put(shelf, tuned, "garage.toml")
    page = seen(club, f"/library/compare?one={one}&other={other}")
    assert "calibration.elevation_offset_deg" in page
    assert "calibration.drag_factor" not in page
    saved = club.get(f"/library/texts/{other}/text", headers=as_("coach"))
    assert (saved.text, "garage.toml" in saved.headers["content-disposition"]) == (tuned, True)


def test_a_program_is_not_set_beside_a_profile(club: TestClient, shelf: Shelf) -> None:
    one, other = put(shelf), put(shelf, GARAGE, "garage.toml")
    asked = club.get(f"/library/compare?one={one}&other={other}", headers=as_("coach"))
    assert asked.status_code == 422


@pytest.mark.parametrize(("role", "status"), [("nobody", 303), ("viewer", 403)])
def test_coaches_alone_see_and_change_it(
    club: TestClient, shelf: Shelf, role: str, status: int
) -> None:
    sha256 = put(shelf)
    its = f"/library/texts/{sha256}"
    for path in (
        "/library",
        "/library/new",
        its,
        f"{its}/text",
        f"{its}/picture.svg",
        f"/library/compare?one={sha256}&other={sha256}",
        "/launchers",
        "/launchers/x",
    ):
        assert club.get(path, headers=as_(role)).status_code == status, path
    for path in ("/library", f"{its}/approve", f"{its}/look-at", f"{its}/withdraw"):
        assert send(club, role, path, words="x")[0] == status
    assert len(shelf.changes()) == 1


def test_another_page_changes_nothing(club: TestClient, shelf: Shelf) -> None:
    its = f"/library/texts/{put(shelf)}"
    foreign = as_("head-coach") | {"Origin": "http://elsewhere"}
    assert club.post(f"{its}/approve", headers=foreign).status_code == 403
    assert len(shelf.changes()) == 1


@pytest.mark.parametrize("sha256", ["0" * 64, "x", "..%2f..%2fetc", "%00", "'; DROP TABLE person"])
def test_what_is_not_there_is_said_not_to_be(club: TestClient, sha256: str) -> None:
    for path in (
        f"/library/texts/{sha256}",
        f"/library/texts/{sha256}/picture.svg",
        f"/library/compare?one={sha256}&other=y",
        "/library/compare",
    ):
        assert club.get(path, headers=as_("coach")).status_code == 404
    assert send(club, "coach", f"/library/texts/{sha256}/approve")[0] == 404


def test_what_somebody_writes_is_shown_as_words(club: TestClient, shelf: Shelf) -> None:
    text = PAIR.replace("A pair of volleys", "<img src=x onerror=alert(1)>")
    sha256 = put(shelf, text)
    shelf.look_at(sha256, HOSTILE, PEOPLE[Role.HEAD_COACH])
    page = seen(club, f"/library/texts/{sha256}")
    assert "<script" not in page
    assert "<img src=x" not in page
    assert "\u202e" not in page
    assert "&lt;script&gt;" in page
    its = f"/library/texts/{sha256}"
    assert send(club, "coach", f"{its}/look-at", **{"look-words": "a\u202eb"})[0] == 422
    assert send(club, "coach", f"{its}/look-at", **{"look-words": "a" * 501})[0] == 422


def test_a_form_that_is_too_long_is_not_read(club: TestClient) -> None:
    status, _page = send(club, "coach", "/library", name="pair", words="w", text="a" * 2_000_000)
    assert status == 413


def test_courts_are_told_at_once(club: TestClient, shelf: Shelf, store: Store) -> None:
    its = f"/library/texts/{put(shelf)}"
    with club, socket_of(club, court(store)) as host:
        host.send_json({"type": "alive"})
        next_of(host, "here")
        send(club, "head-coach", f"{its}/approve", **{"approve-words": ""})
        assert next_of(host, "fetch")
