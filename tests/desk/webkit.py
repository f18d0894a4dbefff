"""A third engine: Debian's WebKitGTK, spoken to as the standard for it says.

Source: W3C, WebDriver (2018): sessions, navigation, script, actions; over HTTP. Its browser needs a
screen, which a server without one gives it.
"""

from __future__ import annotations

import json
import os
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from feedscript.override import override
from tests.desk.engine import PATIENCE_S, Engine

DRIVER, SCREEN = "/usr/bin/WebKitWebDriver", "/usr/bin/Xvfb"
BROWSERS = "/usr/lib"
#: The browser's own bars, and room for them.
_SCREEN_SIZE = "1600x1200x24"
_OPTIONS = "webkitgtk:browserOptions"
_VALUE = """const told = arguments[0];
if (!window.trouble) {
  window.trouble = [];
  addEventListener("error", (event) => window.trouble.push(event.message));
  addEventListener("unhandledrejection", (event) => window.trouble.push(String(event.reason)));
}
(async () => JSON.stringify(await (%s)) ?? "null")().then(told, (wrong) => told("!" + wrong));"""


def browser() -> Path:
    """The small browser that comes with the engine."""
    return next(Path(BROWSERS).glob("*/webkit2gtk-4.*/MiniBrowser"))


class WebKit(Engine):
    """One window of it. Complaints are noted from the first question to a page on."""

    def __init__(self, port: int) -> None:
        self._address = f"http://127.0.0.1:{port}/session"
        wanted = {_OPTIONS: {"binary": str(browser()), "args": ["--automation"]}}
        told = self._ask("POST", "", {"capabilities": {"alwaysMatch": wanted}})
        self.opened = told["capabilities"]["browserVersion"]
        self._address += f"/{told['sessionId']}"

    def _ask(self, method: str, path: str, said: object = None) -> Any:
        body = None if said is None else json.dumps(said).encode()
        asked = urllib.request.Request(self._address + path, body, method=method)
        try:
            with urllib.request.urlopen(asked, timeout=PATIENCE_S) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as refused:
            raise AssertionError((path, refused.read().decode())) from refused

    @property
    def trouble(self) -> list[str]:  # type: ignore[override]
        return list(self.evaluate("window.trouble"))

    @override
    def size(self, width: int, height: int) -> None:
        """The window is as much larger as its bars are."""
        around = (0, 0)
        for _ in range(2):
            wanted = {"width": width + around[0], "height": height + around[1]}
            self._ask("POST", "/window/rect", wanted)
            got = self.evaluate("[innerWidth, innerHeight]")
            around = (wanted["width"] - got[0], wanted["height"] - got[1])

    @override
    def go(self, address: str) -> None:
        self._ask("POST", "/url", {"url": address})

    @override
    def evaluate(self, expression: str) -> Any:
        told = self._ask("POST", "/execute/async", {"script": _VALUE % expression, "args": []})
        assert not told.startswith("!"), (expression, told)
        return json.loads(told)

    @override
    def perform(self, source: dict[str, Any]) -> None:
        self._ask("POST", "/actions", {"actions": [source]})

    def close(self) -> None:
        self._ask("DELETE", "")


@contextmanager
def _screen() -> Iterator[str]:
    """A screen that nobody sees."""
    command = [SCREEN, "-displayfd", "1", "-screen", "0", _SCREEN_SIZE, "-nolisten", "tcp"]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    try:
        assert process.stdout is not None
        yield f":{process.stdout.readline().strip()}"
    finally:
        process.terminate()
        process.wait(20)
        assert process.stdout is not None
        process.stdout.close()


@contextmanager
def dark_webkit(home: Path) -> Iterator[WebKit]:
    """A WebKit on a device that is set to dark, with ``home`` as its own new home."""
    home.mkdir(parents=True)
    with _screen() as display:
        env = {**os.environ, "DISPLAY": display, "HOME": str(home), "GTK_THEME": "Adwaita:dark"}
        port = _free_port()
        command = [DRIVER, f"--port={port}"]
        process = subprocess.Popen(
            command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        try:
            _answers(port)
            page = WebKit(port)
            yield page
            page.close()
        finally:
            process.terminate()
            process.wait(20)


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _answers(port: int) -> None:
    """Until the driver listens."""
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
            return
        except OSError:
            assert time.monotonic() < until, "the driver does not listen"
            time.sleep(0.05)
