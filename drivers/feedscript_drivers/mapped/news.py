"""What a device says of itself without being an answer: balls, faults, hopper, being there.

Sans-IO. A text may say several things at once (the answer to a poll mostly does): it is held
against every pattern.
"""

from __future__ import annotations

import re

from msgspec import Struct

from feedscript_drivers.mapped.answers import number_in
from feedscript_drivers.mapped.description.keys import Mapping, Replies


class Heard(Struct, frozen=True):
    """What one text says."""

    balls: int = 0  # so many left; of a counter since it was heard before, which may be too many
    empty: bool = False
    ready: bool = False
    fault: str = ""  # by its name
    hopper: int | None = None

    @property
    def is_news(self) -> bool:
        return self != Heard()


class News:
    """The patterns of one mapping, and where its counter of balls stands."""

    def __init__(self, mapping: Mapping) -> None:
        self._mapping = mapping
        replies = mapping.replies
        self._ball = _pattern(replies.ball)
        self._empty = _pattern(replies.empty)
        self._ready = _pattern(replies.ready)
        self._hopper = _pattern(replies.hopper)
        self._faults = _faults(replies)
        self._counts = self._ball is not None and "count" in self._ball.groupindex
        self._count: int | None = None

    @property
    def knows_count(self) -> bool:
        """Whether a ball that leaves now would be noticed."""
        return not self._counts or self._count is not None

    def hear(self, text: str) -> Heard:
        """What a text says; of a counter only how far it has gone on."""
        return Heard(
            balls=self._balls(text),
            empty=_fits(self._empty, text),
            ready=_fits(self._ready, text),
            fault=next((name for name, one in self._faults if one.fullmatch(text)), ""),
            hopper=self._in_hopper(text),
        )

    def _balls(self, text: str) -> int:
        match = None if self._ball is None else self._ball.fullmatch(text)
        if match is None:
            return 0
        if not self._counts:
            return 1
        count = number_in(self._mapping, match, "count")
        if count is None:
            return 0
        before, self._count = self._count, count
        return 0 if before is None else self._risen(count - before)

    def _risen(self, by: int) -> int:
        wraps = self._mapping.replies.count_wraps_at
        return by if wraps is None else by % (wraps + 1)

    def _in_hopper(self, text: str) -> int | None:
        match = None if self._hopper is None else self._hopper.fullmatch(text)
        return None if match is None else number_in(self._mapping, match, "balls")


def _pattern(text: str) -> re.Pattern[str] | None:
    return re.compile(text) if text else None


def _fits(pattern: re.Pattern[str] | None, text: str) -> bool:
    return pattern is not None and pattern.fullmatch(text) is not None


def _faults(replies: Replies) -> list[tuple[str, re.Pattern[str]]]:
    named = [(name, re.compile(pattern)) for name, pattern in replies.faults.items()]
    return [*named, *([("device", re.compile(replies.fault))] if replies.fault else [])]
