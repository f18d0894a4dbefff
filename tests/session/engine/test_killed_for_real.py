"""``feedscript run`` killed with SIGKILL at random instants, again and again, in real time.

The stand-in lives on in a process of its own behind a real pty and logs every ball that its plant
threw. The journal is all that is left of each host; the next one goes on from it with `--resume`.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sqlite3
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.session.engine.test_run_process import PROGRAM, balls, run, summary
from tests.simulator.stand_in_process import Lines, stand_in

pytestmark = pytest.mark.real_time

#: A host lives at most so long: through the set-up list and arming (about 5 s) and a few balls.
LIFE_S = 10.0


@dataclass
class Lesson:
    """One lesson whose host is killed: its journal, the launcher's own log, a person with keys."""

    folder: Path
    address: str
    lines: Lines
    balls: int
    asked: int = 0  # how often a person was asked what became of a ball

    def thrown(self) -> list[int]:
        """What the plant threw, in order: feed ids."""
        return [line["feed_id"] for line in self.lines.so_far() if line["event"] == "left"]

    def read(self, query: str) -> list[tuple[Any, ...]]:
        """Rows of the journal; none while there is no journal."""
        path = self.folder / "journal.sqlite"
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=5.0)) as journal:
            try:
                return journal.execute(query).fetchall()
            except sqlite3.OperationalError:
                return []

    def begun(self) -> bool:
        """Whether a host came as far as writing the lesson down."""
        return (self.folder / "journal.sqlite").exists() and bool(
            self.read("SELECT id FROM session")
        )

    def live(self, life_s: float) -> dict[str, Any] | None:
        """A host goes on with the lesson for so long, then dies; what it said if it ended first."""
        program = self.folder / "short.feed"
        program.write_text(PROGRAM.format(count=self.balls - 1), encoding="utf-8")
        what = ("--resume",) if self.begun() else (str(program),)
        keys, theirs = os.openpty()
        host = run(self.address, self.folder, *what, stdin=theirs)
        os.close(theirs)
        try:
            dies_s = time.monotonic() + life_s
            while host.poll() is None and time.monotonic() < dies_s:
                time.sleep(min(0.1, max(0.0, dies_s - time.monotonic())))
                self.help(keys)
            if host.poll() is not None:
                return summary(host)
            host.send_signal(signal.SIGKILL)
            host.communicate()
            return None
        finally:
            os.close(keys)

    def help(self, keys: int) -> None:
        """What the person beside the launcher does when the lesson cannot go on alone: looks
        whether a ball left of which nobody knows, and has the launcher set up again."""
        if not self.begun():
            return
        moves = "kind IN ('act', 'happened', 'resumed')"
        rows = self.read(f"SELECT data FROM entry WHERE {moves} ORDER BY id")
        phase = json.loads(rows[-1][0]).get("phase") if rows else None
        if phase == "stopped":
            os.write(keys, b"r")
        elif phase == "asking":
            unknown = "SELECT feed_id FROM ball WHERE outcome = 'unknown' ORDER BY feed_id"
            for (feed_id,) in self.read(unknown)[:1]:
                self.asked += 1
                os.write(keys, b"y" if feed_id in self.thrown() else b"n")
                time.sleep(0.5)

    def live_and_die(self, life_s: float) -> str:
        """How a host ended: killed, finished, or link-lost where this machine was too busy to
        keep the heartbeat up; that is one more host to follow."""
        found = self.live(life_s)
        known = {feed_id for feed_id, _, _ in balls(self.folder)}
        assert set(self.thrown()) <= known, "a ball left that no journal knows"
        if found is None:
            # It may die when all is done and written, and only its last words are missing.
            done = self.read("SELECT ending FROM session")[-1:] == [("finished",)]
            return "finished" if done else "killed"
        if found.get("ending") == "finished":
            return "finished"
        assert "link-lost" in {one["slug"] for one in found["diagnostics"]}, found
        return "link-lost"

    def compare(self) -> None:
        """The journal says what the plant threw, and that is the plan, once."""
        left = [(feed_id, no) for feed_id, no, fate in balls(self.folder) if fate == "left"]
        assert [no for _, no in left] == list(range(1, self.balls + 1))
        assert self.thrown() == [feed_id for feed_id, _ in left]
        assert {fate for _, _, fate in balls(self.folder)} <= {"left", "not-sent"}


def killed_lesson(folder: Path, kills: int, count: int, seed: int) -> int:
    """One lesson under so many kills, or until it ends; how many there were."""
    chance = random.Random(seed)
    killed = 0
    with stand_in("--pty") as (_, lines, address):
        lesson = Lesson(folder, address, lines, count)
        end = ""
        while end != "finished":
            end = lesson.live_and_die(chance.uniform(0.0, LIFE_S) if killed < kills else 120.0)
            killed += end == "killed"
        lines.drain()
        lesson.compare()
    print(f"{folder.name}: {killed} hosts killed, {lesson.asked} times a person was asked")
    return killed


@pytest.mark.timeout(300)
def test_a_lesson_outlives_its_hosts(tmp_path: Path) -> None:
    assert killed_lesson(tmp_path, kills=2, count=4, seed=2) > 0


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_two_hundred_hosts_killed_at_random_instants(tmp_path: Path) -> None:
    """Lesson after lesson, two at a time, until 200 hosts are dead."""
    killed, lessons = 0, 0
    with ThreadPoolExecutor(2) as pool:
        while killed < 200:
            folders = [tmp_path / f"{lessons + side}" for side in range(2)]
            for folder in folders:
                folder.mkdir()
            seeds = [lessons, lessons + 1]
            deaths = pool.map(killed_lesson, folders, [20, 20], [24, 24], seeds)
            killed += sum(deaths)
            lessons += len(folders)
            print(f"{killed} hosts killed in {lessons} lessons")
    assert killed >= 200
