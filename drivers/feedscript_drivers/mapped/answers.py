"""Which command an answer is for: the oldest one that it fits and that was not answered yet.

Sans-IO. Many devices answer every command alike ("ok"), so an answer that came late, or twice,
would be taken for the next command's. Each command that went out is therefore owed an answer of
its own until that has come or has been given up for lost. An answer that was lost, that nobody is
owed, or that refuses what no device refuses, says that the count may be out of step. Where requests
are numbered nothing can be out of step: an answer is for the request whose number it has.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from enum import Enum
from typing import Final, Literal, TypeAlias

import anyio
from msgspec import Struct, field

from feedscript_drivers.mapped.description.keys import NEVER, ByCommand, Mapping

Word: TypeAlias = Literal["start", "set", "feed", "stop", "emergency", "alive", "poll"]
WORDS: tuple[Word, ...] = ("set", "feed", "stop", "emergency", "alive", "poll")


#: So long after it was given up for lost an answer may still come. Design value.
_STILL_COMES_S: Final = 3.0


class Verdict(Enum):
    """What an answer says."""

    DONE = "done"
    REFUSED = "refused"
    LOST = "lost"  # none came, and one to a later command did


class Fits(Struct, frozen=True):
    """What answers a command. ``done`` None: nothing does."""

    done: re.Pattern[str] | None
    refused: re.Pattern[str] | None = None


class Owed(Struct, eq=False):
    """One command that went out."""

    word: Word
    fits: Fits
    lost_s: float  # from then on its answer is not awaited any more
    number: int | None = None  # the request's
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

    def __init__(self, mapping: Mapping, out_of_step: Callable[[], None]) -> None:
        self._out_of_step = out_of_step
        self._mapping = mapping
        self._fits = {word: _fits(mapping, word) for word in WORDS}
        self._owed: list[Owed] = []
        self._overdue: list[Owed] = []  # given up for lost, and may come after all

    def sent(
        self, word: Word, lost_s: float, number: int | None = None, fits: Fits | None = None
    ) -> Owed:
        """A command went out. One that the device does not answer counts as done. ``fits``: what
        answers this one, where that does not stand in the replies."""
        owed = Owed(word, fits or self._fits[word], lost_s, number)
        if owed.fits.done is None:
            owed.end(Verdict.DONE)
        else:
            self._owed.append(owed)
        return owed

    def hear(self, text: str, now_s: float) -> Owed | None:
        """The command that this answers; None when nobody is owed it, or when it is no answer."""
        self.forget(now_s)
        for place, owed in enumerate(self._owed):
            verdict = self._verdict(owed.fits, owed.number, text)
            if verdict is not None:
                if not self._numbered:
                    # A device answers in order: what went out before this was not answered.
                    self._lose(self._owed[:place])
                self._owed.remove(owed)
                owed.end(verdict, text)
                if verdict is Verdict.REFUSED and owed.word not in ("set", "feed"):
                    self._doubt()
                return owed
        if any(self._verdict(fits, None, text) is not None for fits in self._fits.values()):
            del self._overdue[:1]
            self._doubt()
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
        late = [owed for owed in self._owed if owed.lost_s <= now_s]
        self._lose(late)
        known = [] if self._numbered else [*self._overdue, *late]
        self._overdue = [owed for owed in known if now_s < owed.lost_s + _STILL_COMES_S]

    def alike_may_come(self, one: Owed, now_s: float, but: Collection[Owed]) -> int:
        """So many answers to other commands, given up for lost, may yet be taken for this one's."""
        self.forget(now_s)
        return sum(owed.fits.done == one.fits.done for owed in self._overdue if owed not in but)

    def all_came(self) -> None:
        """More answers came than were overdue: what comes from now on is none of those."""
        self._overdue.clear()

    @property
    def _numbered(self) -> bool:
        return self._mapping.ids is not None

    def _doubt(self) -> None:
        if not self._numbered:
            self._out_of_step()

    def _lose(self, lost: list[Owed]) -> None:
        for owed in lost:
            self._owed.remove(owed)
            owed.end(Verdict.LOST)
            if owed.word != "poll":  # whose answer is like no other
                self._doubt()

    def waiting(self) -> list[Owed]:
        """What may still be answered; who is told that the host lives waits for no answer."""
        return [owed for owed in self._owed if owed.word not in ("alive", "poll")]

    def _verdict(self, fits: Fits, number: int | None, text: str) -> Verdict | None:
        """``number``: the request's, where it must be this one."""
        for pattern, verdict in ((fits.refused, Verdict.REFUSED), (fits.done, Verdict.DONE)):
            match = None if pattern is None else pattern.fullmatch(text)
            if match is None:
                continue
            if number is None or number_in(self._mapping, match, "id") == number:
                return verdict
        return None


def number_in(mapping: Mapping, match: re.Match[str], group: str) -> int | None:
    """The number that a group of a pattern caught; None where it caught none."""
    text = match.groupdict().get(group)
    try:
        if text is None or mapping.frame.kind == "lines":
            return None if text is None else int(text)
        return int.from_bytes(bytes.fromhex(text), mapping.replies.number_order)
    except ValueError:
        return None


def answer_of(pattern: str) -> Fits:
    """What answers a step that has a pattern of its own."""
    return Fits(re.compile(pattern))


def _fits(mapping: Mapping, word: Word) -> Fits:
    replies = mapping.replies
    return Fits(_pattern(replies.done, word), _pattern(replies.refused, word))


def _pattern(said: str | ByCommand, word: Word) -> re.Pattern[str] | None:
    text = said if isinstance(said, str) else getattr(said, word)
    return re.compile(text) if text and text != NEVER else None
