"""The club's commands, as they are typed."""

from __future__ import annotations

import json
import time
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.club.store import hosts
from feedscript.club.store.store import open_store


def test_an_invitation_lets_one_court_join(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'club.sqlite'}"
    done = CliRunner().invoke(verbs, ["club", "invite", "--store", address, "--format", "json"])
    assert done.exit_code == 0
    with closing(open_store(address)) as store:
        code = json.loads(done.output)["code"]
        assert hosts.join(store, code, "court one", time.time()) is not None


@pytest.mark.parametrize(
    ("asked", "slug"),
    [
        (["--store", "mysql://x"], "club-store-unusable"),
        (["--bind", "0.0.0.0:0"], "club-needs-tls"),
        (["--bind", "somewhere"], "club-bad-address"),
    ],
)
def test_what_cannot_be_served_is_refused(tmp_path: Path, asked: list[str], slug: str) -> None:
    store = ["--store", f"sqlite:///{tmp_path / 'club.sqlite'}"]
    done = CliRunner().invoke(verbs, ["club", "serve", *store, *asked])
    assert done.exit_code == 2
    assert slug in done.output


def test_without_its_libraries_the_club_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("feedscript.club.refusals._NEEDED", ("sqlalchemy", "no_such_library"))
    for verb in ("serve", "invite"):
        done = CliRunner().invoke(verbs, ["club", verb])
        assert done.exit_code == 2
        assert "no_such_library" in done.output
        assert "needs-club" in done.output
