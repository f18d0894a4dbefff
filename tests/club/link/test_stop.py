"""STOP from the club, through ``feedscript run``, by the launcher's own clock."""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from contextlib import closing
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.club.link.membership import keep_membership, membership_path
from feedscript.club.messages import STOP
from feedscript.club.store import stops
from feedscript.club.who import Role
from tests.club.link.journals import in_journal, in_log
from tests.club.link.served import Served, served_club

pytestmark = pytest.mark.real_time

PROGRAM = """feedscript 1
title "Stopped from afar (invented)"
court    { surface hard }
balls    { type 2   load 80 }
launcher { stands 1 m behind centre mark }
group    { players "Ash", "Birch"  stage yellow  level club }
feed deep { land 3 m inside baseline, 1.5 m inside ad sideline   speed 80 km/h   within 1 m }
lesson { show speed of deep  for each player { repeat 30 { send deep after 2 s }  rest 4 s } }
"""


def entries(journal: Path, *kinds: str) -> list[dict[str, object]]:
    with closing(sqlite3.connect(journal)) as file:
        rows = file.execute("SELECT kind, data FROM entry ORDER BY id").fetchall()
    return [{"kind": kind, **json.loads(data)} for kind, data in rows if kind in kinds]


class Afar:
    """Somebody at the club who stops the court once two balls were seen to leave."""

    def __init__(self, club: Served) -> None:
        self.club = club
        self.told: list[str] = []
        self.took_s = 0.0
        self.thread = threading.Thread(target=self.watch)
        self.thread.start()

    def seen(self, kind: str) -> list[tuple[object, ...]]:
        lessons = in_log(self.club.store, self.club.court.host)
        return [event for events in lessons.values() for event in events if event[2] == kind]

    def watch(self) -> None:
        patience = time.monotonic() + 60
        while time.monotonic() < patience:
            if sum('"left"' in str(event[4]) for event in self.seen("outcome")) >= 3:
                break
            time.sleep(0.02)
        headers = {"Origin": self.club.url, "x-role": Role.COACH}
        answer = httpx.post(
            f"{self.club.url}{STOP}", json={"host": self.club.court.host}, headers=headers
        )
        self.told.append(answer.json()["state"])
        began_s = time.monotonic()
        while time.monotonic() < began_s + 10 and not any(
            '"stopping"' in str(event[4]) for event in self.seen("event")
        ):
            time.sleep(0.005)
        self.took_s = time.monotonic() - began_s
        while time.monotonic() < began_s + 10 and self.told[-1] in ("asked", "heard"):
            time.sleep(0.02)
            self.told += [one.told.state.value for one in stops.recent(self.club.store)]


@pytest.mark.timeout(120)
def test_a_stop_from_the_club_stops_the_launcher_and_its_acknowledgement_goes_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    program, journal = tmp_path / "afar.feed", tmp_path / "journal.sqlite"
    program.write_text(PROGRAM)
    with served_club(tmp_path) as club:
        keep_membership(club.court)
        assert membership_path().stat().st_mode & 0o777 == 0o600
        afar = Afar(club)
        words = ["run", str(program), "--on", "sim:", "--journal", str(journal)]
        done = CliRunner().invoke(verbs, [*words, "--yes-i-am-behind-the-launcher"])
        afar.thread.join()
        assert (afar.told[0], afar.told[-1]) == ("asked", "stopped")
        assert in_log(club.store, club.court.host) == in_journal(journal)
    print(done.output, f"{afar.took_s * 1000:.0f} ms")
    (asked,) = [one for one in entries(journal, "act") if one["act"] == "stop"]
    assert asked["by"] == "club: the coach"
    heard = [one["said"] for one in entries(journal, "event") if one["event"] == "state"]
    (stopped_s,) = [one["device_s"] for one in heard if one["state"] == "stopping"]
    left = [one for one in entries(journal, "outcome") if one["outcome"] == "left"]
    assert 3 <= len(left) < 60
    assert all(one["left_device_s"] <= stopped_s for one in left)
