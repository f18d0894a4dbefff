"""Whole lessons of real courts, each struck at a random instant: killed, cut off from the club, its
clock off by a day, its disk full. The club's log is the court's journal, every time."""

from __future__ import annotations

import os
import random
import resource
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, suppress
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from feedscript.club.link.membership import Membership, keep_membership
from feedscript.club.store.store import Store, open_store
from tests.club.lessons import court
from tests.club.link.forge import Command, Forge, forge
from tests.club.link.journals import in_journal, in_log
from tests.club.link.way import Way
from tests.club.server.processes import serving

pytestmark = [pytest.mark.long, pytest.mark.timeout(0)]

PROGRAM = """feedscript 1
title "Struck (invented)"
court    { surface hard }
balls    { type 2   load 20 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group    { 4 players  stage yellow  level club }
feed deep { land 3 m inside baseline, 1.5 m inside ad sideline   speed 80 km/h   within 1 m }
lesson { show speed of deep  repeat 3 { send deep after 2 s } }
"""
DAY_S = 86_400.0
STRIKES = ("killed", "cut", "hole", "clock", "disk")
TIMES = int(os.environ.get("STRUCK", "100"))
#: Courts that play at once, and how long a lesson takes at most before it is struck, s.
COURTS, WITHIN_S = 4, 9.0


class Court:
    """One court's computer, with its journal over many lessons."""

    def __init__(self, folder: Path, store: Store, port: int, number: int) -> None:
        self.folder = folder / f"court-{number}"
        self.folder.mkdir()
        self.store, self.draw = store, random.Random(number)
        self.journal = self.folder / "data" / "feedscript" / "journal.sqlite"
        self.out = self.folder / "out"
        self.env = {
            "XDG_CONFIG_HOME": str(self.folder / "config"),
            "XDG_DATA_HOME": str(self.folder / "data"),
        }
        self.codes = Counter[tuple[str, int]]()
        joined = court(store, f"court {number}")
        self.host = joined.host
        self.way = Way(port)
        self.member = Membership(url="", host=joined.host, key=joined.key, name="x")

    def joins(self) -> None:
        url = f"http://127.0.0.1:{self.way.port}"
        member = Membership(url=url, host=self.host, key=self.member.key, name="x")
        keep_membership(member, self.folder / "config" / "feedscript" / "club.json")

    def play(self, forge: Forge, program: Path, strike: str) -> None:
        """A lesson, struck once; then what the club lacks is pushed, and both are compared."""
        words = ["run", str(program), "--on", "sim:", "--yes-i-am-behind-the-launcher"]
        off_s = self.draw.choice((-DAY_S, DAY_S)) if strike == "clock" else 0.0
        process = forge.begin(Command(words=words, env=self.env, out=str(self.out), off_s=off_s))
        self.wait_for_its_beginning()
        time.sleep(self.draw.uniform(0.0, WITHIN_S))
        self.strike(process, strike)
        code = forge.wait(process)
        # 3: its disk was full, or the machine too busy: the launcher did not hear of its host.
        assert code in (0, 3, -signal.SIGKILL), self.out.read_text()
        self.codes[strike, code] += 1
        self.way.becomes("open")
        time.sleep(0.05)
        pushed = forge.begin(Command(words=["club", "push"], env=self.env, out=str(self.out)))
        assert forge.wait(pushed) == 0, self.out.read_text()
        assert in_log(self.store, self.host) == in_journal(self.journal)

    def wait_for_its_beginning(self) -> None:
        """Under a running lesson the journal has a log of its own beside it."""
        until_s = time.monotonic() + 60.0
        while not self.journal.with_name("journal.sqlite-wal").exists():
            assert time.monotonic() < until_s, self.out.read_text()
            time.sleep(0.02)

    def strike(self, process: int, strike: str) -> None:
        match strike:
            case "killed":
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
            case "cut" | "hole":
                self.way.becomes(strike)
                time.sleep(self.draw.uniform(0.05, 4.0))
                self.way.becomes("open")
            case "clock":
                os.kill(process, signal.SIGUSR1)
            case "disk":  # no file of this process may grow any more
                journal = self.journal.with_name("journal.sqlite-wal")
                size = journal.stat().st_size if journal.exists() else 0
                most = max(size, 16_384)  # more than what is said on the terminal
                with suppress(ProcessLookupError, PermissionError):
                    resource.prlimit(process, resource.RLIMIT_FSIZE, (most, most))


@pytest.fixture
def hall(tmp_path: Path) -> Iterator[tuple[list[Court], list[Forge], Path]]:
    program = tmp_path / "struck.feed"
    program.write_text(PROGRAM)
    address = f"sqlite:///{tmp_path / 'club.sqlite'}"
    with ExitStack() as stack:
        served = stack.enter_context(serving(address))
        store = open_store(address)
        stack.callback(store.close)
        port = urlsplit(served.url).port
        assert port is not None
        courts = [Court(tmp_path, store, port, number) for number in range(COURTS)]
        for one in courts:
            stack.enter_context(one.way.laid())
            one.joins()
        forges = [stack.enter_context(forge(str(program))) for _ in courts]
        yield courts, forges, program


def test_every_event_comes_once_and_in_order_whatever_strikes_a_lesson(
    hall: tuple[list[Court], list[Forge], Path],
) -> None:
    courts, forges, program = hall
    strikes = list(STRIKES) * TIMES
    random.Random(1).shuffle(strikes)
    left, done, failed = iter(strikes), Counter[str](), list[BaseException]()
    lock = threading.Lock()

    def plays(court: Court, forge: Forge) -> None:
        try:
            while not failed:
                with lock:
                    strike = next(left, None)
                if strike is None:
                    return
                court.play(forge, program, strike)
                done[strike] += 1
                print(dict(done), flush=True)
        except BaseException as trouble:  # noqa: BLE001 (of a thread)
            failed.append(trouble)  # told below

    threads = [
        threading.Thread(target=plays, args=pair) for pair in zip(courts, forges, strict=True)
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    for trouble in failed:
        raise trouble
    assert done == dict.fromkeys(STRIKES, TIMES)
    events = sum(len(one) for court in courts for one in in_journal(court.journal).values())
    ended = sum((one.codes for one in courts), Counter[tuple[str, int]]())
    print(f"{sum(done.values())} lessons, {events} events; how they ended: {dict(ended)}")
