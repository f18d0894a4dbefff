"""Desks come and go: so many at a time, none for longer than somebody is at it, and one that is
killed or hangs is begun anew."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path
from typing import Any

import anyio
import pytest
from websockets.exceptions import ConnectionClosed

from feedscript import own_library
from feedscript.club.desks import coach_desk, gate
from feedscript.club.desks.desks import IDLE_S, Desks
from feedscript.club.store.people import accounts
from feedscript.club.store.store import Store
from feedscript.club.who import Person
from feedscript.diagnostics import FeedscriptError
from tests.club.desks.stage import Asking, AtDesks, at_desks, folder_of, program


def process_of(stage: AtDesks, person: Person) -> int:
    process = stage.desks._of[person.id]._process
    assert process is not None
    return process.pid


def ends_and_begins_anew(stage: AtDesks, page: Asking) -> None:
    """Killed, and then one that hangs."""
    page.save("kept", program("Kept"))
    assert page.get("/played/kept").status_code == 200
    desk = stage.desks._of[stage.kim.id]
    os.kill(process_of(stage, stage.kim), signal.SIGKILL)
    assert desk._process is not None
    desk._process.wait(10)
    assert page.get("/played/kept").status_code == 200
    os.kill(process_of(stage, stage.kim), signal.SIGSTOP)
    assert desk._client is not None
    desk._client.timeout = 0.5  # type: ignore[assignment]
    hangs = page.get("/played/kept")
    assert hangs.status_code == 503
    assert hangs.json()["refused"]["slug"] == "club-desk-not-heard"
    again = page.get("/played/kept")
    assert again.status_code == 200, again.text


def the_signed_out_go(stage: AtDesks, page: Asking) -> None:
    with page.words("shipped/wednesday-six") as socket:
        with stage.store.writing() as connection:
            accounts.withdraw(connection, stage.kim.id, 5.0)
        with pytest.raises(ConnectionClosed):
            socket.recv(timeout=30)
    assert page.get("/programs").status_code == 401


@pytest.mark.long
def test_a_day_of_one_desk_among_two_coaches(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gate, "STILL_MAY_S", 0.2)
    monkeypatch.setattr(coach_desk, "ENDS_WITHIN_S", 0.5)
    with at_desks(store, most_desks=1) as stage:
        kim, lee = stage.page(stage.kim), stage.page(stage.lee)
        ends_and_begins_anew(stage, kim)
        with kim.words("kept"):
            taken = lee.get("/programs")
            assert taken.status_code == 503
            assert taken.json()["refused"]["slug"] == "club-desks-taken"
        first = folder_of(stage, stage.kim)
        assert (first / "programs" / "kept.feed").exists()
        the_signed_out_go(stage, kim)
        until_s = time.monotonic() + 10.0
        while lee.get("/programs").status_code != 200:  # who has gone makes room
            assert time.monotonic() < until_s
        assert not first.exists()
        last = folder_of(stage, stage.lee)
    assert not last.exists()
    assert not [one for one in Path("/proc").glob("[0-9]*/cmdline") if str(last) in _told(one)]


def _told(path: Path) -> str:
    try:
        return path.read_text()
    except OSError:
        return ""


def test_who_asked_longest_ago_makes_room_and_the_idle_go() -> None:
    now_s = 0.0

    async def main() -> None:
        nonlocal now_s
        desks = Desks(2, lambda: now_s)
        one = await desks.of("one")
        now_s = 1.0
        two = await desks.of("two")
        with one.used():
            three = await desks.of("three")
            assert (one.root.exists(), two.root.exists(), three.root.exists()) == (
                True,
                False,
                True,
            )
            with three.used(), pytest.raises(FeedscriptError):
                await desks.of("four")
        now_s = 1.5
        assert await desks.of("one") is one
        now_s = 1.0 + IDLE_S + 0.1
        await desks.clear_idle()
        assert (one.root.exists(), three.root.exists()) == (True, False)
        now_s = 2.0 + IDLE_S
        with one.used():
            await desks.clear_idle()
            assert one.root.exists()
        await desks.clear_idle()
        assert not one.root.exists()

    anyio.run(main)


def test_what_a_desk_is_given_holds_no_secret(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    given: dict[str, Any] = {}
    monkeypatch.setenv("PGPASSWORD", "secret")
    monkeypatch.setenv(own_library.VARIABLE, "/home/of/the/server")
    monkeypatch.setattr(
        coach_desk.subprocess, "Popen", lambda *words, **more: given.update(more, words=words)
    )
    coach_desk._started(tmp_path)
    assert "secret" not in str(given)
    assert "/home/of" not in str(given)
    assert given["env"][own_library.VARIABLE] == str(tmp_path / "own")


def test_a_server_may_have_no_desks() -> None:
    async def main() -> None:
        with pytest.raises(FeedscriptError) as refused:
            await Desks(0).of("one")
        assert "no desks" in refused.value.diagnostic.message

    anyio.run(main)
