"""A second engine: Debian's Firefox, spoken to as the standard for it says.

Source: W3C, WebDriver BiDi (working draft): modules session, browsingContext, script, input, log.
"""

from __future__ import annotations

import itertools
import json
import os
import re
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from websockets.sync.client import ClientConnection, connect

FIREFOX = "/usr/bin/firefox-esr"
PATIENCE_S = 40.0
CONTROL = "\ue009"
#: As a person's device is set; and nothing but the page under test is asked of any network.
DARK = """
user_pref("layout.css.prefers-color-scheme.content-override", 0);
user_pref("network.dns.disabled", true);
user_pref("datareporting.policy.dataSubmissionEnabled", false);
"""
#: An element's middle once it has not moved for some frames.
_STILL = """new Promise((told) => {
  const one = document.querySelector(%s);
  one.scrollIntoView({ block: "nearest" });
  let was = "", same = 0;
  const look = () => {
    const { x, y, width, height } = one.getBoundingClientRect();
    const now = [x + width / 2, y + height / 2];
    same = String(now) === was ? same + 1 : 0;
    was = String(now);
    if (same < 10) requestAnimationFrame(look);
    else told(now);
  };
  look();
})"""


class Firefox:
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

    def size(self, width: int, height: int) -> None:
        viewport = {"width": width, "height": height}
        self.command("browsingContext.setViewport", context=self._tab, viewport=viewport)

    def go(self, address: str) -> None:
        self.command("browsingContext.navigate", context=self._tab, url=address, wait="complete")

    def evaluate(self, expression: str) -> Any:
        """What an expression of the page's own language comes to."""
        told = self.command(
            "script.evaluate",
            expression=f"(async () => JSON.stringify(await ({expression})) ?? 'null')()",
            target={"context": self._tab},
            awaitPromise=True,
        )
        assert told["type"] == "success", (expression, told["exceptionDetails"]["text"])
        return json.loads(told["result"]["value"])

    def wait(self, expression: str) -> None:
        """Until it is so."""
        until = time.monotonic() + PATIENCE_S
        while not self.evaluate(expression):
            assert time.monotonic() < until, (expression, self.evaluate("document.body.innerText"))
            time.sleep(0.05)

    def wait_for_words(self, selector: str, words: str) -> None:
        self.wait(f"document.querySelector({selector!r})?.textContent.includes({words!r}) ?? false")

    def press(self, keys: str, held: str = "") -> None:
        """Keys of the keyboard, one after another."""
        does = [{"type": "keyDown", "value": held}] if held else []
        for key in keys:
            does += [{"type": way, "value": key} for way in ("keyDown", "keyUp")]
        does += [{"type": "keyUp", "value": held}] if held else []
        self._perform({"type": "key", "id": "keyboard", "actions": does})

    def click(self, selector: str) -> None:
        self.click_at(*self.middle(selector))

    def click_at(self, x: float, y: float, times: int = 1) -> None:
        self._hand(_move(x, y), *(_DOWN, _UP) * times)

    def drag(self, selector: str, right_px: float, down_px: float) -> None:
        x, y = self.middle(selector)
        half = _move(x + right_px / 2, y + down_px / 2)
        to = _move(x + right_px, y + down_px)
        self._hand(_move(x, y), _DOWN, half, to, _UP)

    def middle(self, selector: str) -> tuple[float, float]:
        """Where an element's middle is, brought into sight and standing still."""
        x, y = self.evaluate(_STILL % repr(selector))
        return x, y

    def _hand(self, *does: dict[str, Any]) -> None:
        self._perform({"type": "pointer", "id": "hand", "actions": list(does)})

    def _perform(self, source: dict[str, Any]) -> None:
        self.command("input.performActions", context=self._tab, actions=[source])


_DOWN = {"type": "pointerDown", "button": 0}
_UP = {"type": "pointerUp", "button": 0}


def _move(x: float, y: float) -> dict[str, Any]:
    return {"type": "pointerMove", "x": round(x), "y": round(y)}


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
