"""``feedscript club join`` and ``push``, against a club's real server on this machine."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from feedscript.cli import verbs
from feedscript.club.link.membership import membership_path, read_membership, server_address
from feedscript.club.store import hosts
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import open_journal
from tests.club.link.journals import begin, in_journal, in_log, write
from tests.club.link.served import Served, served_club


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with served_club(tmp_path_factory.mktemp("club")) as served:
        yield served


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def said(*words: str) -> Result:
    return CliRunner().invoke(verbs, ["club", *words])


def code(club: Served) -> str:
    return hosts.new_code(club.store, time.time() + 60)


def test_a_computer_joins_once_and_pushes_what_it_has(club: Served, tmp_path: Path) -> None:
    once = code(club)
    done = said("join", club.url, "--code", once, "--as", "Court 2")
    assert done.exit_code == 0, done.output
    assert membership_path().stat().st_mode & 0o777 == 0o600
    membership = read_membership()
    assert membership is not None
    assert membership.key not in done.output
    path = tmp_path / "journal.sqlite"
    with closing(open_journal(path)) as journal:
        write(journal, begin(journal, 5), 12)
    push = ("push", "--journal", str(path), "--format", "json")
    assert json.loads(said(*push).stdout) == {
        "document": "club-push",
        "format": 1,
        "forgot": 0,
        "sent": 12,
        "waiting": 0,
        "not_taken": [],
        "fetched": 0,
    }
    assert json.loads(said(*push).stdout)["sent"] == 0
    assert in_log(club.store, membership.host) == in_journal(path)
    again = said("join", club.url, "--code", code(club))
    assert (again.exit_code, "no-club-joined" in again.output) == (2, True)
    spent = said("join", club.url, "--code", once, "--again")
    assert (spent.exit_code, "club-not-taken" in spent.output) == (3, True)
    assert read_membership() == membership  # what was there stays
    hosts.withdraw(club.store, membership.host, 60.0)
    with closing(open_journal(path)) as journal:
        write(journal, 1, 1)
    refused = said("push", "--journal", str(path))
    assert (refused.exit_code, "club-not-taken" in refused.output) == (3, True)


def test_a_club_that_is_not_there_is_told_and_what_waits_is_counted(
    club: Served, tmp_path: Path
) -> None:
    assert said("join", club.url, "--code", code(club)).exit_code == 0
    path = membership_path()
    path.write_text(path.read_text().replace(club.url, "http://127.0.0.1:9"))
    with closing(open_journal(tmp_path / "j.sqlite")) as journal:
        write(journal, begin(journal, 5), 3)
    done = said("push", "--journal", str(tmp_path / "j.sqlite"))
    assert done.exit_code == 3
    assert "club-not-heard" in done.output
    assert "does not have yet: 3" in done.output
    nobody = said("join", "http://127.0.0.1:9", "--code", "x", "--again")
    assert (nobody.exit_code, "club-not-heard" in nobody.output) == (3, True)


def test_who_belongs_to_no_club_is_told_how_to_join() -> None:
    done = said("push")
    assert done.exit_code == 3
    assert "no-club-joined" in done.output
    assert "feedscript club join" in done.output
    membership_path().parent.mkdir(parents=True)
    membership_path().write_text("{")
    assert "no-club-joined" in said("push").output


@pytest.mark.parametrize(
    "address",
    [
        *("http://club.example", "ftp://club.example", "https://", "https://club.example/there"),
        *("https://me@club.example", "https://club.example:x", "http://127.0.0.1.example"),
    ],
)
def test_only_https_carries_names_and_a_key(address: str) -> None:
    done = said("join", address, "--code", "x")
    assert (done.exit_code, "club-address" in done.output) == (2, True)
    with pytest.raises(FeedscriptError):
        server_address(address)


def test_an_address_is_kept_as_it_is_meant() -> None:
    assert server_address("club.example") == "https://club.example"
    assert server_address("https://club.example:8443/") == "https://club.example:8443"
    assert server_address("http://[::1]:8420") == "http://[::1]:8420"


def test_a_certificate_that_is_none_is_told(tmp_path: Path) -> None:
    (tmp_path / "none.pem").write_text("no certificate")
    words = ("join", "https://club.example", "--code", "x", "--club-certificate")
    done = said(*words, str(tmp_path / "none.pem"))
    assert (done.exit_code, "club-address" in done.output) == (3, True)
    done = said(*words, str(tmp_path / "nowhere.pem"))
    assert (done.exit_code, "club-address" in done.output) == (2, True)
