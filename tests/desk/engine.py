"""A tab of a browser that speaks W3C WebDriver, whichever: what a person does in it.

Source: W3C, WebDriver (2018), 17 Actions: the same sources of input in both ways to speak it.
"""

from __future__ import annotations

import time
from abc import ABC, abstractmethod
from typing import Any

PATIENCE_S = 40.0
CONTROL, SHIFT, RIGHT = "\ue009", "\ue008", "\ue014"
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


class Engine(ABC):
    """One tab. What its scripts complain of is in ``trouble``."""

    trouble: list[str]

    @abstractmethod
    def size(self, width: int, height: int) -> None:
        """Of what the page has."""

    @abstractmethod
    def go(self, address: str) -> None:
        """Open an address."""

    @abstractmethod
    def evaluate(self, expression: str) -> Any:
        """What an expression of the page's own language comes to."""

    @abstractmethod
    def perform(self, source: dict[str, Any]) -> None:
        """Do what one source of input does."""

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
        self.perform({"type": "key", "id": "keyboard", "actions": does})

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
        self.perform({"type": "pointer", "id": "hand", "actions": list(does)})


_DOWN = {"type": "pointerDown", "button": 0}
_UP = {"type": "pointerUp", "button": 0}


def _move(x: float, y: float) -> dict[str, Any]:
    return {"type": "pointerMove", "x": round(x), "y": round(y)}
