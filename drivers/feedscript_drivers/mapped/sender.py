"""Talking to a mapped device: one command at a time, a stop past everything, answers awaited.

Nothing here is a feed's: only commands whose repetition does no harm are asked; a feed is sent.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import anyio
from anyio.abc import ByteStream

from feedscript.launcher.port import GivenUpError, LauncherError
from feedscript_drivers.mapped.answers import Answers, Fits, Owed, Verdict, Word, answer_of
from feedscript_drivers.mapped.description.keys import REQUEST_ID, Ids, Mapping, Step
from feedscript_drivers.mapped.frames import frame
from feedscript_drivers.pages import GIVEN_UP, NO_ANSWER
from feedscript_drivers.wire.link import STREAM_ENDS

_TRIES: Final = 3
#: An answer that took longer than so many times what the device is said to need is lost.
_LOST_AFTER: Final = 2.0


def _always() -> bool:
    return True


def _tell_nobody(_: Owed) -> None:
    pass


class Sender:
    """The outgoing half. ``on_lost`` is told when the device can no longer be reached."""

    def __init__(
        self,
        mapping: Mapping,
        stream: ByteStream,
        device: str,
        answers: Answers,
        on_lost: Callable[[str], None],
    ) -> None:
        self.answers = answers
        self._mapping = mapping
        self._stream = stream
        self._device = device
        self._on_lost = on_lost
        self._writing = anyio.Lock()  # a frame goes out whole
        self._turn = anyio.Lock()  # one question at a time
        self._stops = 0  # that were not acknowledged yet
        self._request = 0  # how many were numbered so far

    async def send(
        self,
        word: Word,
        template: str,
        numbers: dict[str, float] | None = None,
        wanted: Callable[[], bool] = _always,
        fits: Fits | None = None,
        on_sent: Callable[[Owed], None] = _tell_nobody,
    ) -> Owed:
        """One command, once; ``on_sent`` is told before its first byte goes out. Raises
        GivenUpError when it is no longer wanted as it would go out."""
        number = self._next_number(template)
        named = {} if number is None else {REQUEST_ID: float(number)}
        data = frame(self._mapping, template, {**(numbers or {}), **named})
        async with self._writing:
            if not wanted():
                raise GivenUpError(
                    GIVEN_UP.report(f"{word} was given up for a stop or hold", device=self._device)
                )
            lost_s = anyio.current_time() + _LOST_AFTER * self._mapping.device.answer_within_s
            owed = self.answers.sent(word, lost_s, number, fits)
            on_sent(owed)
            try:
                await self._stream.send(data)
            except STREAM_ENDS as error:
                self._on_lost(f"the port took no more bytes ({error or type(error).__name__})")
        return owed

    def _next_number(self, template: str) -> int | None:
        ids = self._mapping.ids
        if ids is None or f"{{{REQUEST_ID}}}" not in template:
            return None
        self._request += 1
        return _numbered(ids, self._request - 1)

    async def ask(
        self,
        template: str,
        numbers: dict[str, float],
        wanted: Callable[[], bool],
        on_sent: Callable[[Owed], None],
    ) -> Owed:
        """A part of a setting, answered; ``on_sent`` is told each time that it goes out. Raises
        LauncherError when no answer comes."""
        async with self._turn:
            await self._let_in_late_answers()
            for _ in range(_TRIES):
                owed = await self.send("set", template, numbers, wanted, on_sent=on_sent)
                await _heard(owed, owed.lost_s)
                if owed.verdict in (Verdict.DONE, Verdict.REFUSED):
                    return owed
        raise self._unanswered("set")

    async def greet(self, step: Step, until_s: float) -> None:
        """A step of the handshake, again until it is answered. Raises LauncherError."""
        sent: list[Owed] = []
        fits = answer_of(step.answer)
        while anyio.current_time() < until_s:
            sent.append(await self.send("start", step.send, fits=fits))
            oldest = next((owed for owed in sent if owed.verdict is None), sent[-1])
            await _heard(oldest, anyio.current_time() + self._mapping.device.answer_within_s)
            if any(owed.verdict is Verdict.DONE for owed in sent):
                return
        raise self._unanswered(f"{step.send!r}")

    async def poll(self) -> Owed:
        """Ask for the state, between two parts of a setting; what is heard is heard elsewhere."""
        async with self._turn:
            owed = await self.send("poll", self._mapping.commands.poll)
            await _heard(owed, owed.lost_s)
            return owed

    async def halt(self, word: Word, template: str, patience_s: float) -> None:
        """A stop: at once, past whatever waits, and again until it is answered.

        Until then the device is not told that the host lives, so that one that hears no stop stops
        by itself. Where the answer to another command may still come, and is like this one's, it is
        told and answered once more for each of those. Raises LauncherError when no answer comes.
        """
        until_s = anyio.current_time() + patience_s
        sent: list[Owed] = []
        self._stops += 1
        try:
            while anyio.current_time() < until_s:
                sent.append(await self.send(word, template))
                oldest = next((owed for owed in sent if owed.verdict is None), sent[-1])
                await _heard(oldest, anyio.current_time() + self._mapping.device.answer_within_s)
                done = sum(owed.verdict is Verdict.DONE for owed in sent)
                others = self.answers.alike_may_come(sent[0], anyio.current_time(), sent)
                if done > others:
                    self.answers.all_came()
                    return
        finally:
            self._stops -= 1
        raise self._unanswered(word)

    async def say_alive(self) -> None:
        """Tell a device that stops by itself that the host lives."""
        if not self._stops:
            await self.send("alive", self._mapping.commands.alive)

    @property
    def is_stopping(self) -> bool:
        """Whether a stop was not acknowledged yet."""
        return self._stops > 0

    async def _let_in_late_answers(self) -> None:
        """Answers to what was repeated must not be taken for the next command's."""
        for owed in self.answers.waiting():
            await _heard(owed, owed.lost_s)
        self.answers.forget(anyio.current_time())

    def _unanswered(self, word: str) -> LauncherError:
        return LauncherError(
            NO_ANSWER.report(
                f"{word}: the device did not answer",
                help="look at its power and its cable; is the mapping this device's?",
                device=self._device,
            )
        )


def _numbered(ids: Ids, count: int) -> int:
    """The number of the request after so many."""
    return ids.least + count % (ids.most - ids.least + 1)


async def _heard(owed: Owed, until_s: float) -> None:
    """Wait for a command's answer, at most until then."""
    with anyio.CancelScope(deadline=until_s):
        await owed.heard.wait()
