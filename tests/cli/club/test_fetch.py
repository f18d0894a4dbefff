"""``feedscript club fetch``, and what a court brings down when its lesson is over."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.cli.on_court.club_link import fetch_after
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.link.history import history_path
from feedscript.club.link.membership import Membership, keep_membership
from feedscript.club.store.log import take_in
from feedscript.club.who import Role
from feedscript.club_library import VARIABLE, club_folder, read_text
from feedscript.journal.store import open_journal
from feedscript.review.record.history import history_of
from tests.club.lessons import court
from tests.club.library.signed import KEY
from tests.club.library.test_shelf import PAIR
from tests.club.link.journals import begin
from tests.club.link.served import Served, served_club
from tests.club.people.played import lesson
from tests.club.server.stage import PEOPLE

MINE = "Wren Ash"


@pytest.fixture
def club(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    """A club with a text in use, and a lesson of another court in which a player of ours was on."""
    for variable in ("XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(variable, str(tmp_path / variable))
    monkeypatch.setenv(VARIABLE, str(tmp_path / "club-library"))
    (tmp_path / "club").mkdir()
    with served_club(tmp_path / "club") as served:
        shelf, head = Shelf(served.store, ClubKey(KEY), time.time), PEOPLE[Role.HEAD_COACH]
        shelf.approve(shelf.add("pair", PAIR, "", head).sha256, "", head)
        take_in(served.store, court(served.store, "court two").host, [lesson(MINE, "Ben")], 9.0)
        keep_membership(served.court)
        yield served


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Ours, in which the player is named."""
    path = tmp_path / "journal.sqlite"
    with closing(open_journal(path)) as opened:
        opened.note(begin(opened, 5), 1.8e9, "roster", {"player": MINE})
    return path


def known(club: Served, journal: Path) -> None:
    """Our own lesson has come to the club: by that it knows whose we are."""
    done = CliRunner().invoke(verbs, ["club", "push", "--journal", str(journal)])
    assert done.exit_code == 0, done.output
    history_path(journal).unlink()  # what came down with that


def test_library_and_history_come_down_together(club: Served, journal: Path) -> None:
    known(club, journal)
    fetch = ["club", "fetch", "--journal", str(journal), "--format", "json"]
    told = json.loads(CliRunner().invoke(verbs, fetch).stdout)
    head = {"document": "club-fetch", "format": 1}
    assert told == {**head, "texts": 1, "programs": 0, "withdrawn": {}, "lessons": 1}
    assert read_text(club_folder(), "pair", 1000)[1] == PAIR.encode()
    there = history_of((journal, history_path(journal)), MINE)
    assert there.lessons
    again = json.loads(CliRunner().invoke(verbs, fetch).stdout)
    assert again == {**head, "texts": 0, "programs": 0, "withdrawn": {}, "lessons": 0}


def test_a_court_brings_both_down_when_its_lesson_is_over(club: Served, journal: Path) -> None:
    known(club, journal)
    assert fetch_after(journal) is None
    assert history_path(journal).exists()
    assert read_text(club_folder(), "pair", 1000)


def test_without_the_club_nothing_is_said_after_a_lesson_and_all_stays(
    club: Served, journal: Path
) -> None:
    known(club, journal)
    assert fetch_after(journal) is None
    kept = history_path(journal).read_bytes()
    keep_membership(msgspec.structs.replace(club.court, url="http://127.0.0.1:9"))
    assert fetch_after(journal) is None
    assert history_path(journal).read_bytes() == kept
    assert read_text(club_folder(), "pair", 1000)


def test_a_key_that_is_withdrawn_is_said_after_a_lesson(club: Served, journal: Path) -> None:
    keep_membership(Membership(url=club.url, host=club.court.host, key="none", name="x"))
    told = fetch_after(journal)
    assert told is not None
    assert told.slug == "club-not-taken"


def test_a_court_of_no_club_fetches_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    assert fetch_after(tmp_path / "journal.sqlite") is None
    assert CliRunner().invoke(verbs, ["club", "fetch"]).exit_code == 3
