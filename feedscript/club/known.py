"""Who was recognised lately by what he sends along, so that the door keeps room for him."""

from __future__ import annotations

import hashlib
from collections import OrderedDict

from starlette.requests import HTTPConnection

#: So many are remembered: design value, more than a large club has computers and pages.
MOST = 4096


class Known:
    """From the event loop alone. It opens nothing: what may be asked is looked up each time."""

    def __init__(self) -> None:
        self._known: OrderedDict[str, None] = OrderedDict()

    def recognised(self, asks: HTTPConnection) -> str | None:
        """Whoever sends this along is somebody, and is called this from now on."""
        token = _token(asks)
        if token is not None:
            self._known[token] = None
            self._known.move_to_end(token)
            if len(self._known) > MOST:
                self._known.popitem(last=False)
        return token

    def of(self, asks: HTTPConnection) -> str | None:
        """A name for whoever asks, the same each time; None for a stranger."""
        token = _token(asks)
        return token if token in self._known else None


def _token(asks: HTTPConnection) -> str | None:
    sent = asks.headers.get("authorization") or asks.headers.get("cookie")
    return hashlib.sha256(sent.encode("utf-8", "replace")).hexdigest() if sent else None
