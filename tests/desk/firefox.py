"""A second engine: Debian's Firefox, spoken to as the standard for it says.

Source: W3C, WebDriver BiDi (working draft): modules session, browsingContext, script, input, log.
"""

from __future__ import annotations

import itertools
import json
import os
import re
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

from feedscript.override import override
from tests.desk.engine import PATIENCE_S, Engine

FIREFOX = "/usr/bin/firefox-esr"
#: As a person's device is set; and nothing but the page under test is asked of any network.
DARK = """
user_pref("layout.css.prefers-color-scheme.content-override", 0);
user_pref("network.dns.disabled", true);
user_pref("datareporting.policy.dataSubmissionEnabled", false);
"""


class Firefox(Engine):
    """One tab. What its scripts complain of is in ``trouble``."""

    def __init__(self, socket: ClientConnection) -> None:
        self._socket = socket
        self._numbers = itertools.count()
        self.trouble: list[str] = []
        self.opened = self.command("session.new", capabilities={})["capabilities"]["browserVersion"]
        self.command("session.subscribe", events=["log.entryAdded"])
        self._tab = self.command("browsingContext.getTree")["contexts"][0]["context"]

    def command(self, method: str, **params: Any) -> dict[str, Any]:
        """Ask for something and wait for the answer; complaints that come before it are kept."""
        number = next(self._numbers)
        self._socket.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            told = json.loads(self._socket.recv(PATIENCE_S))
            if told.get("method") == "log.entryAdded" and told["params"]["level"] == "error":
                self.trouble.append(str(told["params"]["text"]))
            if told.get("id") == number:
                assert told["type"] == "success", (method, told)
                return dict(told["result"])

    @override
    def size(self, width: int, height: int) -> None:
        viewport = {"width": width, "height": height}
        self.command("browsingContext.setViewport", context=self._tab, viewport=viewport)

    @override
    def go(self, address: str) -> None:
        self.command("browsingContext.navigate", context=self._tab, url=address, wait="complete")

    @override
    def evaluate(self, expression: str) -> Any:
        told = self.command(
            "script.evaluate",
            expression=f"(async () => JSON.stringify(await ({expression})) ?? 'null')()",
            target={"context": self._tab},
            awaitPromise=True,
        )
        assert told["type"] == "success", (expression, told["exceptionDetails"]["text"])
        return json.loads(told["result"]["value"])

    @override
    def perform(self, source: dict[str, Any]) -> None:
        self.command("input.performActions", context=self._tab, actions=[source])


@contextmanager
def dark_firefox(home: Path) -> Iterator[Firefox]:
    """A Firefox on a device that is set to dark, with ``home`` as its own new home."""
    profile = home / "profile"
    profile.mkdir(parents=True)
    (profile / "user.js").write_text(DARK, "utf-8")
    process = subprocess.Popen(
        [FIREFOX, "--headless", "--profile", str(profile), "--remote-debugging-port", "0"],
        env={**os.environ, "HOME": str(home)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert process.stderr is not None
        listening = (re.search(r"listening on (ws://\S+)", line) for line in process.stderr)
        address = next(found[1] for found in listening if found)
        with connect(f"{address}/session", max_size=None, proxy=None) as socket:
            yield Firefox(socket)
    finally:
        process.terminate()
        process.wait(20)
        assert process.stderr is not None
        process.stderr.close()
