"""An invented club to look at: courts that play shipped programs on simulated launchers, each as a
process of its own that has joined, in a folder that goes when it ends."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from feedscript.check.check_program import check_program
from feedscript.club.library.shelf import Shelf
from feedscript.club.library.signing import ClubKey
from feedscript.club.link.membership import Membership, keep_membership
from feedscript.club.store import hosts
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role
from feedscript.shipped import shipped_profiles, shipped_programs

#: What each court plays; the last has joined and is never heard.
COURTS = {
    "Court 1 (invented)": "thursday-juniors",
    "Court 2 (invented)": "friday-seven",
    "Court 3 (invented)": "saturday-eight",
    "Court 4 (invented)": None,
}
#: What stands in its library: approved, approved and then withdrawn, and waiting to be looked at.
TEXTS = ("library/depth_cross", "library/same_ball_ten_times", "library/short_deep")
#: The profiles of the launchers that its courts play on, approved.
PROFILES = ("garage.toml", "three-wheels.toml")
#: How long a court rests between its lessons, and is given to end, s.
REST_S, ENDS_S = 20.0, 5.0

_AUTHOR = Person(id="invented-1", name="An invented coach", role=Role.COACH)
_OTHER = Person(id="invented-2", name="Another invented coach", role=Role.COACH)


def fill_library(store: Store, key: ClubKey) -> None:
    """Three texts, as far as they have come, and the launchers' profiles."""
    shelf = Shelf(store, key, time.time)
    programs = shipped_programs()
    made = [
        shelf.add(Path(name).name, programs[name].read_text("utf-8"), "Invented.", _AUTHOR).sha256
        for name in TEXTS
    ]
    for sha256 in made[:2]:
        shelf.approve(sha256, "Invented.", _OTHER)
    shelf.withdraw(made[1], "Invented: too fast for the group it is meant for.", _OTHER)
    for name in PROFILES:
        text = shipped_profiles()[name].read_text("utf-8")
        shelf.approve(shelf.add(name, text, "Invented.", _AUTHOR).sha256, "Invented.", _OTHER)


def join_all(store: Store, folder: Path, url: str) -> dict[Path, str]:
    """Every court joined; the folder of each one that plays, and what it plays."""
    playing: dict[Path, str] = {}
    now = time.time()
    for number, (name, program) in enumerate(COURTS.items(), 1):
        joined = hosts.join(store, hosts.new_code(store, now + hosts.CODE_LIFE_S), name, now)
        assert joined is not None
        if program is not None:
            home = folder / f"court-{number}"
            membership = Membership(url=url, host=joined.host, key=joined.key, name=name)
            keep_membership(membership, home / "config" / "feedscript" / "club.json")
            playing[home] = program
    return playing


@contextmanager
def playing(courts: dict[Path, str]) -> Iterator[None]:
    """They play inside the context, again and again."""
    ends = threading.Event()
    threads = [
        threading.Thread(target=_play, args=(home, program, ends), name=f"invented {home.name}")
        for home, program in courts.items()
    ]
    for thread in threads:
        thread.start()
    try:
        yield
    finally:
        ends.set()
        for thread in threads:
            thread.join()


def _play(home: Path, program: str, ends: threading.Event) -> None:
    each = ["--on", "sim:"] * len(check_program(shipped_programs()[program]).profiles)
    words = ["run", program, *each, "--yes-i-am-behind-the-launcher"]
    journal = ["--journal", str(home / "journal.sqlite")]
    while not ends.is_set():
        with _process([*words, *journal], home) as process:
            while process.poll() is None and not ends.wait(0.1):
                pass
        ends.wait(REST_S)


@contextmanager
def _process(words: Sequence[str], home: Path) -> Iterator[subprocess.Popen[bytes]]:
    """`feedscript`, with folders of its own for what it keeps."""
    folders = {"XDG_CONFIG_HOME": str(home / "config"), "XDG_DATA_HOME": str(home / "data")}
    nowhere = subprocess.DEVNULL
    with subprocess.Popen(
        [sys.executable, "-m", "feedscript.cli", *words],
        env=os.environ | folders,
        stdin=nowhere,
        stdout=nowhere,
        stderr=nowhere,
    ) as process:
        try:
            yield process
        finally:
            process.terminate()
            try:
                process.wait(ENDS_S)
            except subprocess.TimeoutExpired:
                process.kill()
