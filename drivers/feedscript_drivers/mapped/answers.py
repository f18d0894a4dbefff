"""Which command an answer is for: the oldest one that it fits and that was not answered yet.

Sans-IO. Many devices answer every command alike ("ok"), so an answer that came late, or twice,
would be taken for the next command's. Each command that went out is therefore owed an answer of
its own until that has come or has been given up for lost. An answer that was lost, that nobody is
owed, or that refuses what no device refuses, says that the count may be out of step.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from enum import Enum
from typing import Literal, TypeAlias

import anyio
from msgspec import Struct, field

from feedscript_drivers.mapped.description import ByCommand, Replies

Word: TypeAlias = Literal["set", "feed", "stop", "emergency", "alive"]
WORDS: tuple[Word, ...] = ("set", "feed", "stop", "emergency", "alive")


class Verdict(Enum):
    """What an answer says."""

    DONE = "done"
    REFUSED = "refused"
    LOST = "lost"  # none came, and one to a later command did


class Owed(Struct, eq=False):
    """One command that went out."""

    word: Word
    lost_s: float  # from then on its answer is not awaited any more
    verdict: Verdict | None = None
    text: str = ""
    heard: anyio.Event = field(default_factory=anyio.Event)

    def end(self, verdict: Verdict, text: str = "") -> None:
        self.verdict, self.text = verdict, text
        self.heard.set()


class Answers:
    """The commands that are owed an answer, oldest first.

    ``out_of_step`` is called when an answer that was taken may have been another command's.
    """

    def __init__(self, replies: Replies, out_of_step: Callable[[], None]) -> None:
        self._out_of_step = out_of_step
        self._done = {word: _pattern(replies.done, word) for word in WORDS}
        self._refused = {word: _pattern(replies.refused, word) for word in WORDS}
        self._owed: list[Owed] = []

    def sent(self, word: Word, lost_s: float) -> Owed:
        """A command went out. One that the device does not answer counts as done."""
        owed = Owed(word, lost_s)
        if self._done[word] is None:
            owed.end(Verdict.DONE)
        else:
            self._owed.append(owed)
        return owed

    def hear(self, text: str, now_s: float) -> Owed | None:
        """The command that this answers; None when nobody is owed it, or when it is no answer."""
        self.forget(now_s)
        for place, owed in enumerate(self._owed):
            verdict = self._verdict(owed.word, text)
            if verdict is not None:
                # A device answers in order: what went out before this was not answered.
                self._lose(self._owed[:place])
                self._owed.remove(owed)
                owed.end(verdict, text)
                if verdict is Verdict.REFUSED and owed.word not in ("set", "feed"):
                    self._out_of_step()
                return owed
        if any(self._verdict(word, text) is not None for word in WORDS):
            self._out_of_step()
        return None

    def answered_otherwise(self, word: Word) -> None:
        """Something of its own kind came in the place of the answer to the oldest such command."""
        for owed in self._owed:
            if owed.word == word:
                self._owed.remove(owed)
                owed.end(Verdict.REFUSED)
                return

    def forget(self, now_s: float) -> None:
        """Give up for lost what was not answered in its time."""
        self._lose([owed for owed in self._owed if owed.lost_s <= now_s])

    def _lose(self, lost: list[Owed]) -> None:
        for owed in lost:
            self._owed.remove(owed)
            owed.end(Verdict.LOST)
            self._out_of_step()

    def waiting(self) -> list[Owed]:
        """What may still be answered; who is told that the host lives waits for no answer."""
        return [owed for owed in self._owed if owed.word != "alive"]

    def _verdict(self, word: Word, text: str) -> Verdict | None:
        done, refused = self._done[word], self._refused[word]
        if refused is not None and refused.fullmatch(text):
            return Verdict.REFUSED
        if done is not None and done.fullmatch(text):
            return Verdict.DONE
        return None


def _pattern(said: str | ByCommand, word: Word) -> re.Pattern[str] | None:
    text = said if isinstance(said, str) else getattr(said, word)
    return re.compile(text) if text else None
