"""A lesson that the desk began: its own page and set-up list, and a safe end however the desk ends.

The stand-in is a process of its own, as a launcher is a machine of its own: what it tells does not
depend on who asks.
"""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import msgspec
import psutil
import pytest
from playwright.async_api import expect

from feedscript.desk.files import version_of
from feedscript.desk.lesson_messages import Asked, Told
from feedscript.desk.lesson_process import DESK_GONE
from feedscript.desk.on_court import COMMAND as LESSON
from feedscript.journal.queries import balls_that_left, session_numbers, session_of
from feedscript.journal.store import default_journal_path, read_journal
from tests.console.browser import PHONE, chromium, new_page
from tests.console.sent_along import as_its_page
from tests.desk.desk_process import COMMAND
from tests.desk.on_the_court_side import set_up_and_go
from tests.simulator.stand_in_process import stand_in

pytestmark = [pytest.mark.anyio, pytest.mark.real_time]

PROGRAM = """feedscript 1
title "From the desk (invented)"
court { surface hard }
balls { type 2  load 80 }
launcher { stands 1 m behind centre mark }
group { players "Ash", "Birch"  stage yellow  level club }
feed deep { land 3 m inside baseline, 1.5 m inside ad sideline   speed 80 km/h   within 1 m }
lesson {
    show speed of deep
    for each player { repeat 15 { send deep after 2 s }  rest 4 s }
}
"""


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


class Desk:
    """A desk as a process, asked as its page asks."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "mine.feed").write_text(PROGRAM, "utf-8")
        self.process = subprocess.Popen(
            [*COMMAND, str(folder), "--no-browser"], stdout=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        found = re.search(r"(http\S+)/#(\w+)", self.process.stdout.readline())
        assert found is not None
        url, code = found.groups()
        self.client = httpx.Client(base_url=url, headers={"Origin": url}, timeout=20)
        as_its_page(self.client, self.client.post("/pair", json={"code": code}))

    def begin(self, name: str, *addresses: str) -> httpx.Response:
        version = self.client.get(f"/programs/{name}").json()["version"]
        asked = {"program": name, "version": version, "launchers": addresses}
        return self.client.post("/court/begin", json=asked)

    def standing(self) -> dict[str, Any]:
        return self.client.get("/court").json()

    def until(self, state: str) -> dict[str, Any]:
        return until(self.standing, lambda told: told["state"] == state)

    def link(self) -> str:
        return self.client.post("/court/page", json={}).json()["link"]

    def lesson_processes(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children()

    def end_the_lesson(self) -> None:
        """As a polite kill of its own process does: stopped first."""
        for lesson in self.lesson_processes():
            lesson.terminate()
        self.until("over")

    def close(self) -> None:
        self.client.close()
        if self.process.poll() is None:
            self.process.terminate()
        self.process.wait(20)
        assert self.process.stdout is not None
        self.process.stdout.close()


def until(look: Callable[[], Any], wanted: Callable[[Any], bool], within_s: float = 20) -> Any:
    """What is seen once it is as wanted."""
    ends_s = time.monotonic() + within_s
    while not wanted(seen := look()):
        assert time.monotonic() < ends_s, seen
        time.sleep(0.05)
    return seen


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A desk to be ended."""
    desk = Desk(tmp_path)
    yield desk
    desk.close()


@pytest.fixture(scope="module")
def one_for_all(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """One desk for all whose lesson ends before it."""
    desk = Desk(tmp_path_factory.mktemp("coach"))
    yield desk
    desk.close()


@pytest.fixture
def lasting(one_for_all: Desk) -> Iterator[Desk]:
    """It, with no lesson of the test before."""
    yield one_for_all
    if one_for_all.lesson_processes():
        one_for_all.end_the_lesson()


async def test_a_desk_that_is_killed_leaves_launchers_stopped_and_its_lesson_told(
    desk: Desk,
) -> None:
    trouble: list[str] = []
    with stand_in("--pty") as (_, lines, address):
        assert desk.begin("mine", address).status_code == 200
        desk.until("running")
        (lesson,) = desk.lesson_processes()
        async with chromium() as browser:
            page = await new_page(browser, PHONE, trouble)
            await page.goto(desk.link())
            await set_up_and_go(page)
            lines.wait_for(event="left")
            desk.process.kill()
            lines.wait_for(event="state", state="stopping", reason="stop-character", timeout_s=3)
            lines.wait_for(event="state", state="safe")
            await expect(page.locator("body")).to_contain_text(DESK_GONE)
        lesson.wait(30)
        left = [line for line in lines.so_far() if line["event"] == "left"]
    journal = read_journal(default_journal_path())
    newest = session_of(journal, session_numbers(journal)[-1])
    assert newest is not None
    assert (newest.title, newest.ending) == ("From the desk (invented)", "broken-off")
    assert len(balls_that_left(journal, newest.id)) == len(left)
    journal.close()
    assert trouble == []


async def test_a_desk_that_is_ended_waits_until_its_lesson_has_ended(desk: Desk) -> None:
    assert desk.begin("mine", "sim:").status_code == 200
    desk.until("running")
    (lesson,) = desk.lesson_processes()
    desk.process.send_signal(signal.SIGINT)
    desk.process.wait(20)
    assert not lesson.is_running()


async def test_a_launcher_that_does_not_answer_is_given_up_and_keeps_no_desk_from_ending(
    desk: Desk,
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"tcp:127.0.0.1:{silent.getsockname()[1]}@unkeyed"
        assert desk.begin("mine", address).status_code == 200
        first, _ = silent.accept()
        assert desk.client.post("/court/give-up", json={}).status_code == 200
        assert desk.until("over")["told"] == "No lesson began."
        assert desk.begin("mine", address).status_code == 200
        second, _ = silent.accept()
        (lesson,) = desk.lesson_processes()
        desk.process.terminate()
        desk.process.wait(5)
        assert not lesson.is_running()
        first.close()
        second.close()


async def test_a_suspended_desk_takes_no_launcher_its_host(lasting: Desk) -> None:
    """Ctrl-Z at the terminal goes to both; the lesson takes no notice, and is there when the desk
    is again. (Read from the kernel: it suspends nobody whom no shell could wake up.)"""
    assert lasting.begin("mine", "sim:").status_code == 200
    lasting.until("running")
    (lesson,) = lasting.lesson_processes()
    told = Path(f"/proc/{lesson.pid}/status").read_text()
    ignored = int(re.search(r"SigIgn:\s*(\w+)", told)[1], 16)  # type: ignore[index]
    assert ignored & 1 << signal.SIGTSTP - 1
    lasting.process.send_signal(signal.SIGSTOP)
    time.sleep(0.5)
    assert lesson.is_running()
    lasting.process.send_signal(signal.SIGCONT)
    assert lasting.standing()["state"] == "running"


async def test_a_lesson_that_dies_without_a_word_is_told_and_keeps_the_next_from_beginning(
    lasting: Desk,
) -> None:
    with stand_in("--pty") as (_, _, address):
        assert lasting.begin("mine", address).status_code == 200
        lasting.until("running")
        (lesson,) = lasting.lesson_processes()
        lesson.kill()
        told = lasting.until("over")
        assert "ended without a word (SIGKILL)" in told["told"]
        assert told["not_stopped"] == [address]
        refused = lasting.begin("mine", "sim:")
        assert refused.status_code == 409
        assert "see that it stands still" in refused.json()["refused"]["help"]
        assert lasting.client.post("/court/stands-still", json={}).json()["not_stopped"] == []
    assert "leads to no launcher" in lasting.begin("mine", "replay:now-it-looks-where").text


@pytest.mark.long
async def test_what_was_broken_off_at_a_launcher_goes_on_there(lasting: Desk) -> None:
    def again(number: int, address: str) -> httpx.Response:
        asked = {"program": "mine", "version": "", "launchers": [address], "lesson": number}
        return lasting.client.post("/court/begin", json=asked)

    with stand_in("--pty") as (_, _, address):
        assert lasting.begin("mine", address).status_code == 200
        lasting.until("running")
        lasting.end_the_lesson()
        newest = lasting.client.get("/lessons/mine").json()[0]
        assert newest["number"] == lasting.standing()["lesson"]
        assert (newest["ending"], newest["goes_on"]) == ("broken off", True)
        assert "at its launchers only" in again(newest["number"], "sim:").text
        assert again(newest["number"], address).status_code == 200
        lasting.until("running")
        lasting.end_the_lesson()
        assert lasting.standing()["lesson"] == newest["number"]
    assert again(9999, address).status_code == 200
    assert "No lesson began: " in lasting.until("over")["told"]


async def test_one_lesson_at_a_time_and_only_what_passed_by_an_address_that_leads_somewhere(
    lasting: Desk,
) -> None:
    (lasting.folder / "half.feed").write_text("feedscript 1\n", "utf-8")
    version = lasting.client.get("/programs/mine").json()["version"]

    def refused(**changes: object) -> str:
        asked = {"program": "mine", "version": version, "launchers": ["sim:"]} | changes
        answer = lasting.client.post("/court/begin", json=asked)
        assert answer.status_code == 409
        return answer.json()["refused"]["message"]

    half = lasting.client.get("/programs/half").json()["version"]
    assert "does not pass" in refused(program="half", version=half)
    assert "changed somewhere else" in refused(version="0" * 16)
    assert "1 launcher" in refused(launchers=["sim:", "sim:"])
    assert "leads to no launcher" in refused(launchers=["replay:/etc/passwd"])
    assert "leads to no launcher" in refused(launchers=["--journal:/tmp/x"])
    assert lasting.standing()["state"] in ("none", "over")
    assert lasting.begin("mine", "serial:/dev/no-such-port").status_code == 200
    assert "No lesson began: " in lasting.until("over")["told"]
    assert lasting.begin("mine", "sim:").status_code == 200
    assert "`mine` is on court" in refused()
    lasting.until("running")
    first, second = lasting.link(), lasting.link()
    assert first != second
    url, code = second.split("/#")
    with httpx.Client(base_url=url, headers={"Origin": url}) as page:
        assert page.post("/stop", json={}).status_code == 401
        assert page.post("/pair", json={"code": first.split("/#")[1]}).status_code == 403
        as_its_page(page, page.post("/pair", json={"code": code}))
        assert page.post("/stop", json={}).status_code == 200
    assert "`mine` is on court" in refused()
    lasting.end_the_lesson()
    assert "another program ended it" in lasting.standing()["told"]


async def test_strangers_and_other_pages_begin_nothing(lasting: Desk) -> None:
    elsewhere = {"Origin": "http://elsewhere.example"}
    for what in ("begin", "page", "give-up", "stands-still"):
        answer = lasting.client.post(f"/court/{what}", json={}, headers=elsewhere)
        assert answer.status_code == 403
        stranger = httpx.post(f"{lasting.client.base_url}/court/{what}", json={})
        assert stranger.status_code == 401
    for where in ("court", "court/launchers/mine", "lessons/mine", "reviews/1"):
        assert httpx.get(f"{lasting.client.base_url}/{where}").status_code == 401
    assert lasting.lesson_processes() == []


def test_words_that_nobody_looked_at_are_not_begun(tmp_path: Path) -> None:
    """They may be changed between the desk's look and the lesson's own."""
    program = tmp_path / "mine.feed"
    program.write_bytes(PROGRAM.replace("\n", "\r\n").encode())  # as it is, to the last letter
    version = version_of(program.read_bytes().decode())
    for seen, begins in (("0" * 16, False), (version, True)):
        asked = Asked(program=str(program), version=seen, urls=("serial:/dev/no-such-port",))
        done = subprocess.run(
            LESSON, input=msgspec.json.encode(asked) + b"\n", stdout=subprocess.PIPE, timeout=60
        )
        (told,) = (msgspec.json.decode(line, type=Told) for line in done.stdout.splitlines())
        assert told.ended is not None
        (why,) = [one for one in told.ended.diagnostics if one["severity"] == "error"]
        assert ("was changed as it was begun" in why["message"]) is not begins, why
        assert ("no-such-port" in str(why)) is begins, why
