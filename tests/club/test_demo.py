"""The invented club: courts that joined, one that is never heard, a library; nothing is left."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import httpx
import pytest

from feedscript.check.check_program import check_program
from feedscript.club import demo
from feedscript.club.demo import COURTS, PROFILES, fill_library, join_all
from feedscript.club.library.profiles import shelved
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import club_key
from feedscript.club.link.membership import read_membership
from feedscript.club.messages import STOP
from feedscript.club.store import library, presence
from feedscript.club.store.hosts import host_of
from feedscript.club.store.store import Store
from feedscript.club_library import current, versions
from feedscript.launcher.profile.model import profile_hash
from feedscript.shipped import shipped_programs
from tests.club.server.processes import FEEDSCRIPT, Served, come_in, next_of


def test_its_courts_have_joined_and_its_library_stands_as_far_as_it_has_come(
    store: Store, tmp_path: Path
) -> None:
    playing = join_all(store, tmp_path, "http://127.0.0.1:1")
    assert [one.name for one in presence.read(store)] == sorted(COURTS)
    assert set(playing.values()) == {one for one in COURTS.values() if one} <= {*shipped_programs()}
    for home in playing:
        member = read_membership(home / "config" / "feedscript" / "club.json")
        assert member is not None
        assert host_of(store, member.key) == member.host
    key = club_key(tmp_path / "library.key")
    fill_library(store, key)
    changes = library.changes(store)
    used = {name: not one.withdrawn for name, one in current(changes).items()}
    assert used == {"depth_cross": True, "same_ball_ten_times": False} | dict.fromkeys(
        PROFILES, True
    )
    assert len(versions(changes)) == 3 + len(PROFILES)
    # Whatever its courts play on, the page of the launchers calls by the name it has there.
    known = {one.profile_hash for one in shelved(Shelf(store, key, time.time))}
    for name in playing.values():
        verdict = check_program(shipped_programs()[name])
        assert {profile_hash(one) for one in verdict.profiles} <= known, name


def test_every_court_has_a_launcher_for_each_of_its_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else its lesson is refused, and the court is never heard."""
    typed: list[Sequence[str]] = []

    @contextmanager
    def written_down(words: Sequence[str], _home: Path) -> Iterator[SimpleNamespace]:
        typed.append(words)
        yield SimpleNamespace(poll=lambda: 0)

    monkeypatch.setattr(demo, "_process", written_down)
    with demo.playing({tmp_path / name: name for name in COURTS.values() if name}):
        while len(typed) < len(COURTS) - 1:
            time.sleep(0.01)  # the test's time limit stands behind it
    for _run, program, *rest in typed:
        verdict = check_program(shipped_programs()[program])
        assert rest.count("--on") == len(verdict.profiles), program


@pytest.mark.long
def test_a_court_of_it_is_heard_and_stopped_and_nothing_is_left_of_it(tmp_path: Path) -> None:
    words = [*FEEDSCRIPT, "club", "serve", "--demo", "--format", "json"]
    folders = {"TMPDIR": str(tmp_path)}
    with subprocess.Popen(
        words, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True, env=os.environ | folders
    ) as process:
        assert process.stdout is not None
        told = json.loads("".join(iter(process.stdout.readline, "}\n")) + "}")
        with httpx.Client(base_url=told["url"], headers={"Origin": told["url"]}) as page:
            come_in(page, told["invitation"])
            served = Served(process, told["url"], page)
            with served.news() as news:
                host = next_of(news, "court", heard=True)["host"]
                order = served.post(STOP, {"host": host})["order"]
                next_of(news, "stop", order=order, state="stopped")
        process.send_signal(signal.SIGINT)
        assert process.wait(30) == 0
    assert list(tmp_path.iterdir()) == []
