"""What was worked out before, kept by the content that it was worked out from.

A check of a program that was changed at one place asks the same questions as the check before, but
for that place. Whoever checks again and again, an editing server, keeps one memo and hands it down;
everyone else begins with an empty one, and goes the same way.
"""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable, Hashable, Sequence
from typing import Any, TypeVar

import msgspec

#: So many answers are kept; a feed has about five, an hour's lesson some hundreds.
MOST = 4_096

T = TypeVar("T")


class GivenUpError(BaseException):
    """Nobody waits for the work any more.

    Not an Exception: where a fault of ours ends as a refusal, this is none, and goes on.
    """


class Memo:
    """Answers by their questions; those that were asked for longest ago are forgotten.

    May be used by several threads. An answer is frozen, or nobody changes it.
    """

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._known: dict[Hashable, Any] = {}  # what was asked for last stands last
        self._lock = threading.Lock()
        self._stands: Callable[[], bool] = lambda: True

    def as_long_as(self, stands: Callable[[], bool]) -> Memo:
        """The same memo for work that is given up when it ``stands`` no more.

        Its next question then raises GivenUpError; what was worked out until then is kept.
        """
        memo = copy.copy(self)
        memo._stands = stands
        return memo

    def go_on(self) -> None:
        """Raise GivenUpError where the work is given up; every question does so too."""
        if not self._stands():
            raise GivenUpError

    @property
    def kept(self) -> int:
        """How many answers there are."""
        return len(self._known)

    def one(self, what: str, key: Hashable, work: Callable[[], T]) -> T:
        """What ``work`` makes of the content ``key``; ``what`` tells kinds of work apart."""
        return self.each(what, (key,), lambda _: (work(),))[0]

    def each(
        self, what: str, keys: Sequence[Hashable], work: Callable[[list[int]], Sequence[T]]
    ) -> list[T]:
        """What belongs to every key; ``work`` is asked, once, for those that are not known.

        It is given their indices, and gives what belongs to each.
        """
        self.go_on()
        asked = [(what, key) for key in keys]
        with self._lock:
            found = [self._known.pop(one, _MISSING) for one in asked]
        missing = [index for index, one in enumerate(found) if one is _MISSING]
        if missing:
            for index, made in zip(missing, work(missing), strict=True):
                found[index] = made
        with self._lock:
            self._known.update(zip(asked, found, strict=True))
            while len(self._known) > self._most:
                del self._known[next(iter(self._known))]
        return found


_MISSING: Any = object()


def content(*parts: Any) -> bytes:
    """Frozen data as a key: equal for parts that say the same, every bit of every number."""
    return _ENCODER.encode(parts)


def _plain(value: object) -> object:
    """What msgspec does not know: words with a place, functions by their names."""
    if isinstance(value, str):
        return str(value)
    if callable(value):
        return (value.__module__, value.__qualname__)  # type: ignore[attr-defined]
    raise NotImplementedError(f"{type(value).__name__} has no content")


_ENCODER = msgspec.msgpack.Encoder(enc_hook=_plain)
