"""A text is judged and looked at beside the server as in it; one whose check does not end, or takes
too much, is not taken, and never held up anybody."""

from __future__ import annotations

import sys

import pytest
from starlette.testclient import TestClient

from feedscript.club.library import beside, look, shelf
from feedscript.club.library.beside import judged_apart, looked_at_apart
from feedscript.club.library.shelf import NotDoneError, judged_here
from feedscript.club.library.signing import ClubKey
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.server.serve import pages_of
from feedscript.club.store.store import Store
from feedscript.diagnostics import has_errors
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.shipped import shipped_profiles
from feedscript.tongues.tongue import Tongues
from tests.club.desks.stage import program
from tests.club.library.signed import KEY
from tests.club.library.test_shelf import PAIR
from tests.club.server.stage import as_, who

GARAGE = shipped_profiles()["garage.toml"].read_text("utf-8")
#: What strangers may send: each read to its end within its bounds, whatever it is.
HOSTILE = {
    "open": "feedscript 1\nlesson { " + "repeat 2 { " * 20_000,
    "deep": "feedscript 1\nlet a = " + "(" * 100_000 + "1 s",
    "bytes": "\x00\ufeff\u202e" * 10_000,
    "long": "x" * MOST_BYTES,
    "use": 'feedscript 1\nuse "../../../../etc/passwd"\nuse "/etc/passwd"\n',
}


@pytest.mark.parametrize("text", [program(), "feedscript 1\n", "\ufeff\x00 nonsense {"])
def test_what_is_found_beside_the_server_is_what_is_found_in_it(text: str) -> None:
    apart, here = judged_apart("deep", text), judged_here("deep", text)
    assert apart.ok is here.ok is not has_errors(here.diagnostics)
    assert apart.from_club is here.from_club
    told = [(one.slug, one.severity, one.message) for one in apart.diagnostics]
    assert told == [(one.slug, one.severity, one.message) for one in here.diagnostics]


@pytest.mark.parametrize(
    ("name", "text", "language"),
    [("pair", PAIR, "en"), ("pair", PAIR, "de"), ("pair", "{", "en"), ("x.toml", GARAGE, "en")],
)
def test_so_is_what_is_seen_of_it(name: str, text: str, language: str) -> None:
    tongue = Tongues().named(language)
    assert tongue is not None
    apart = looked_at_apart(name, text.encode(), tongue)
    here = look.look(name, text.encode(), tongue)
    assert (apart.title, apart.bounds, apart.picture) == (here.title, here.bounds, here.picture)
    assert {**apart.numbers} == {key: _plain(one) for key, one in here.numbers.items()}
    assert [one.message for one in apart.found] == [one.message for one in here.found]


def _plain(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_texts_are_read_to_their_end_and_told(name: str) -> None:
    seen = looked_at_apart("pair", HOSTILE[name].encode())
    assert (seen.bounds, seen.picture) == (None, "")
    assert seen.found


def test_a_check_that_does_not_end_is_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(beside, "MOST_S", 0.01)
    with pytest.raises(NotDoneError) as refused:
        judged_apart("deep", program())
    assert "did not come to an end" in refused.value.diagnostic.message
    seen = looked_at_apart("deep", program().encode())
    assert "did not come to an end" in seen.found[0].message


GREEDY = """
from feedscript.club.library import beside
def greedy(*_words):
    return bytearray(4_000_000_000)
beside.judged_here = beside.look = greedy
beside.main()
"""


def test_one_that_takes_too_much_memory_is_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four times of what is there to be had; not a byte of it is written."""
    monkeypatch.setattr(beside, "_COMMAND", [sys.executable, "-P", "-c", GREEDY])
    with pytest.raises(NotDoneError):
        judged_apart("deep", program())
    assert "did not come to an end" in looked_at_apart("deep", b"").found[0].message


def test_a_server_judges_and_looks_at_nothing_itself(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of what may take long; how its own process would, is taken away."""
    for module, name in ((shelf, "check_program"), (look, "draw_plan"), (shelf, "profile_in")):
        monkeypatch.setattr(module, name, lambda *_: pytest.fail("in the server's process"))
    club = Club(store, who)
    app = make_app(club, ["testserver"], pages_of(club, ClubKey(KEY)))
    browser = TestClient(app, follow_redirects=False)
    for name, text in (("pair", PAIR), ("garage.toml", GARAGE)):
        sent = {"name": name, "words": "w", "text": text}
        its = browser.post("/library", data=sent, headers=as_("coach"))
        assert its.status_code == 303, its.text
        page = browser.get(its.headers["location"], headers=as_("coach"))
        assert page.status_code == 200
    picture = browser.get(f"{its.headers['location']}/picture.svg", headers=as_("coach"))
    assert picture.status_code == 200
