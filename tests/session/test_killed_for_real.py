"""``feedscript run`` killed with SIGKILL at random instants, again and again, in real time.

The stand-in lives on in a process of its own behind a real pty and logs every ball that its plant
threw. The journal is all that is left of each host; the next one goes on from it with `--resume`.
"""

from __future__ import annotations

import random
import signal
import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest

from feedscript.session.journal import open_journal
from tests.session.test_run_process import PROGRAM, balls, run, summary
from tests.simulator.stand_in_process import Lines, stand_in

#: A host lives at most so long: through the set-up list and arming (about 5 s) and a few balls.
LIFE_S = 10.0


@dataclass
class Lesson:
    """One lesson whose host is killed: its program, its journal, the launcher's own log."""

    folder: Path
    address: str
    lines: Lines
    balls: int

    def thrown(self) -> list[int]:
        """What the plant threw, in order: feed ids."""
        return [line["feed_id"] for line in self.lines.so_far() if line["event"] == "left"]

    def begun(self) -> bool:
        """Whether a host came as far as writing the lesson down."""
        path = self.folder / "journal.sqlite"
        if not path.exists():
            return False
        journal = open_journal(path)
        lessons = journal.rows("SELECT id FROM session")
        journal.close()
        return bool(lessons)

    def host(self) -> subprocess.Popen[str]:
        if self.begun():
            return run(self.address, self.folder, "--resume")
        program = self.folder / "short.feed"
        program.write_text(PROGRAM.format(count=self.balls - 1), encoding="utf-8")
        return run(self.address, self.folder, str(program))

    def kill_one_host(self, chance: random.Random) -> bool:
        """Start a host and kill it at a random instant; False when it came to its end before."""
        host = self.host()
        try:
            host.wait(timeout=chance.uniform(0.0, LIFE_S))
        except subprocess.TimeoutExpired:
            host.send_signal(signal.SIGKILL)
            host.communicate()
            known = {feed_id for feed_id, _, _ in balls(self.folder)}
            assert set(self.thrown()) <= known, "a ball left that no journal knows"
            return True
        assert summary(host)["ending"] == "finished"
        return False

    def go_on_to_the_end(self) -> None:
        host = self.host()
        found = summary(host)
        assert (host.returncode, found["ending"]) == (0, "finished"), found

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
        while killed < kills and lesson.kill_one_host(chance):
            killed += 1
        if killed == kills:
            lesson.go_on_to_the_end()
        lines.drain()
        lesson.compare()
    return killed


def test_a_lesson_outlives_its_hosts(tmp_path: Path) -> None:
    assert killed_lesson(tmp_path, kills=3, count=6, seed=2) > 0


@pytest.mark.long
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
