"""From STOP pressed to the stop character at the launcher's end of the line, end to end.

    python tests/benchmarks/stop.py [--stops 100] [--viewers 5] [--alone]

Four programs beside each other, as on court: `feedscript court-side` under a terminal, with its
journal on the disk, runs a lesson; so many screens watch it over web sockets, and a page holds the
coach's socket; `feedscript check` runs again and again; and the launcher is a stand-in in a process
of its own. Each stop is pressed at a random moment while balls are queued, in turn by the key `s`
in the terminal and by a message over the coach's socket; then the lesson is set up again.

*Pressed* is just before the byte is written to the terminal, or the message to the socket; *on the
wire* is when the launcher's process has read the first stop character from its end of the pty. Both
by the machine's one monotonic clock. With `--alone` there are neither screens nor a check beside.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import re
import select
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from multiprocessing.connection import Connection
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from urllib.parse import urlsplit

import anyio
import httpx
import websockets.sync.client
from feedscript_drivers.wire.protocol import StopCharacter
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.on_pty import on_pty
from feedscript_simulator.stand_in import build

from feedscript.console.access import COOKIE
from feedscript.console.walls import PAGE_KEY
from feedscript.session.operator.phases import Phase
from feedscript.shipped import shipped_folder
from tests.benchmarks.console import PROGRAM, VIEWERS
from tests.benchmarks.link import PROFILE, cuts, in_process_of_its_own, machine

FEEDSCRIPT = [sys.executable, "-c", "from feedscript.cli import main; main()"]
STOP_CHARACTER = bytes([StopCharacter.STOP])
BALLS = 70
WAIT_S = 30.0


def launcher(pipe: Connection) -> None:
    """A stand-in on a pty that tells when each stop character came."""
    plain_receive = Driven.receive

    def receive(self: Driven, data: bytes) -> None:
        if STOP_CHARACTER in data:
            pipe.send(time.monotonic())
        plain_receive(self, data)

    async def serve() -> None:
        stand_in = build(PROFILE, powered_s=anyio.current_time())
        stand_in.person.after_s = 0.2  # nobody waits for a person here
        async with on_pty(stand_in) as device:
            pipe.send(device)
            await anyio.sleep_forever()

    Driven.receive = receive  # type: ignore[method-assign]
    anyio.run(serve)


class Terminal:
    """The console's program, the terminal it runs in, and what it has written there."""

    def __init__(self, arguments: list[str]) -> None:
        self._ours, theirs = os.openpty()
        self.process = subprocess.Popen(
            [*FEEDSCRIPT, *arguments], stdin=theirs, stdout=theirs, stderr=theirs
        )
        os.close(theirs)
        self._text = ""
        self._ends = threading.Event()
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self) -> None:
        while not self._ends.is_set():
            if select.select([self._ours], [], [], 0.1)[0]:
                with contextlib.suppress(OSError):
                    self._text = (self._text + os.read(self._ours, 65536).decode())[-20_000:]

    def press(self, key: str) -> float:
        """Press a key; the moment of it."""
        pressed = time.monotonic()
        os.write(self._ours, key.encode())
        return pressed

    def link(self) -> tuple[str, str]:
        """The page's address and the code that pairs one coach."""
        until = time.monotonic() + WAIT_S
        while time.monotonic() < until:
            found = re.search(r"court-side page: (http://[\d.:]+)/#(\w+)", self._text)
            if found:
                return found[1], found[2]
            time.sleep(0.05)
        raise SystemExit(f"no page came up:\n{self._text}")

    def close(self) -> None:
        self.process.kill()
        self.process.wait()
        self._ends.set()
        self._reader.join()
        os.close(self._ours)


class Page:
    """A coach's page: a web socket, the newest state, and what it sends."""

    def __init__(self, url: str, token: str) -> None:
        self._opening = websockets.sync.client.connect(
            url.replace("http", "ws") + "/live",
            origin=url,
            additional_headers=headers_of(url, token),
        )
        self._socket = self._opening.__enter__()
        self._word = json.loads(self._socket.recv())["socket"]
        self._count = 0
        self._phase = ""
        self._news = threading.Condition()
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self) -> None:
        with contextlib.suppress(websockets.ConnectionClosed):
            for text in self._socket:
                state = json.loads(text).get("view")
                if state is not None:
                    with self._news:
                        self._phase = state["phase"]
                        self._news.notify_all()

    def wait_for(self, *phases: Phase) -> str:
        with self._news:
            if not self._news.wait_for(lambda: self._phase in phases, WAIT_S):
                raise SystemExit(f"the lesson stays {self._phase}")
            return self._phase

    def take_control(self) -> None:
        self._send(control=True)

    def stop(self) -> float:
        """Send STOP; the moment of it."""
        return self._send(command={"do": "act", "act": "stop"})

    def _send(self, **what: object) -> float:
        self._count += 1
        text = json.dumps({"socket": self._word, "count": self._count, **what})
        sent = time.monotonic()
        self._socket.send(text)
        return sent

    def close(self) -> None:
        self._socket.close()
        self._reader.join()


def cookie_of(url: str) -> str:
    """What the page at this address calls its cookie."""
    return f"{COOKIE}_{urlsplit(url).port}"


def headers_of(url: str, token: str) -> dict[str, str]:
    cookie, page = token.split("/")
    return {"Cookie": f"{cookie_of(url)}={cookie}", PAGE_KEY: page}


def paired(url: str, code: str) -> str:
    """The cookie of a device that spends this code, and what its pages know."""
    answer = httpx.post(url + "/pair", json={"code": code}, headers={"Origin": url})
    answer.raise_for_status()
    return f"{answer.cookies[cookie_of(url)]}/{answer.json()['page']}"


def viewer_tokens(url: str, coach: str, count: int) -> list[str]:
    """So many more devices, paired by the coach's page, which holds control for it."""
    tokens = []
    for _ in range(count):
        asked = httpx.post(
            url + "/codes", json={}, headers={"Origin": url, **headers_of(url, coach)}
        )
        asked.raise_for_status()
        tokens.append(paired(url, asked.json()["code"]))
    return tokens


@contextlib.contextmanager
def beside(url: str, tokens: list[str]) -> Iterator[None]:
    """The screens, and a check that begins anew whenever it ends."""
    live = url.replace("http", "ws") + "/live"
    screens = subprocess.Popen([sys.executable, "-c", VIEWERS, live, url, *tokens])
    ends = threading.Event()
    program = shipped_folder() / "thursday-juniors.feed"

    def check() -> None:
        while not ends.is_set():
            subprocess.run([*FEEDSCRIPT, "check", str(program)], capture_output=True, check=True)

    checking = threading.Thread(target=check)
    checking.start()
    try:
        yield
    finally:
        ends.set()
        checking.join()
        screens.kill()
        screens.wait()


def first_after(pressed: float, pipe: Connection) -> float:
    """When the first stop character came that was not under way before."""
    while pipe.poll(WAIT_S):
        came: float = pipe.recv()
        if came >= pressed:
            return came
    raise SystemExit("no stop character came")


def press_stops(
    terminal: Terminal, page: Page, pipe: Connection, stops: int
) -> dict[str, list[float]]:
    """Seconds from each press to the wire, by way of pressing."""
    chance = random.Random(1)
    ways = {"key in the terminal": lambda: terminal.press("s"), "message of the page": page.stop}
    times: dict[str, list[float]] = {way: [] for way in ways}
    for _ in range(stops):
        for way, press in ways.items():
            page.wait_for(Phase.RUNNING)
            time.sleep(chance.uniform(0.05, 0.6))
            pressed = press()
            times[way].append(first_after(pressed, pipe) - pressed)
            page.wait_for(Phase.STOPPED, Phase.ASKING)
            time.sleep(1.5)  # no power at the drives by then, and time to have read the question
            if page.wait_for(Phase.STOPPED, Phase.ASKING) == Phase.ASKING:
                terminal.press("n")  # a ball was at the gate: it did not leave
                page.wait_for(Phase.STOPPED)
            terminal.press("r")
    return times


def measure(folder: Path, stops: int, viewers: int, *, alone: bool) -> None:
    program = folder / "stops.feed"
    program.write_text(PROGRAM.format(balls=BALLS), encoding="utf-8")
    process, device, pipe = in_process_of_its_own(launcher)
    terminal = Terminal(
        ["court-side", str(program), "--on", f"serial:{device}", "--yes-i-am-behind-the-launcher",
         "--journal", str(folder / "journal.sqlite")]
    )  # fmt: skip
    try:
        url, code = terminal.link()
        token = paired(url, code)
        page = Page(url, token)
        try:
            page.take_control()
            tokens = viewer_tokens(url, token, 0 if alone else viewers)
            with contextlib.nullcontext() if alone else beside(url, tokens):
                times = press_stops(terminal, page, pipe, stops)
        finally:
            page.close()
    finally:
        terminal.close()
        process.kill()
        process.join()
    print("alone" if alone else f"with {viewers} screens, a journal and a check beside")
    for way, seconds in times.items():
        print(f"  {way}: n {len(seconds)}, {cuts(seconds)}, worst {max(seconds) * 1e3:.3f} ms")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--stops", type=int, default=100, help="by each way")
    parser.add_argument("--viewers", type=int, default=5)
    parser.add_argument("--alone", action="store_true")
    chosen = parser.parse_args()
    with machine(), tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), chosen.stops, chosen.viewers, alone=chosen.alone)


if __name__ == "__main__":
    main()
