"""The line on which a STOP comes down from the club, and signs of life go up.

Nothing else that may come is carried out while a lesson runs.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

import msgspec
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import InvalidHandshake, InvalidStatus, WebSocketException

from feedscript.club.link.door import NotHeardError, NotTakenError, believed
from feedscript.club.link.membership import Membership
from feedscript.club.messages import (
    ALIVE_S,
    LIVE,
    MOST_BYTES,
    UNHEARD_S,
    Alive,
    FromHost,
    Stop,
    StopEnded,
    StopHeard,
    ToHost,
)
from feedscript.diagnostics import FeedscriptError
from feedscript.tongues.text import _

#: How long a connection may take to open, s. Design value.
OPENS_S = 5.0
#: After a line that broke, the next is tried so much later, each time twice that. Design values.
AGAIN_S, AGAIN_MOST_S = 0.25, 5.0
#: So many of the last orders are remembered. Design value.
REMEMBERED = 100


class Stopped(msgspec.Struct, frozen=True):
    """What became of a stop. ``stopped``: no ball leaves any launcher more; ``says`` then has each
    one's own word, "" where all have acknowledged it. Else why there was nothing to stop."""

    stopped: bool
    says: str = ""


class Stoppable(Protocol):
    """The lesson, as far as the club can reach it."""

    def stop(self, by: str) -> asyncio.Future[Stopped | None]:
        """Stop every launcher, now; what became of it, once that is known. None: a launcher cannot
        confirm it any more."""
        ...


class Listener:
    """One court's line to its club; opened again whenever it breaks."""

    def __init__(
        self,
        membership: Membership,
        lesson: Stoppable,
        alive: Callable[[], Alive],
        heard: Callable[[FeedscriptError | None], None],
    ) -> None:
        self._membership = membership
        self._lesson = lesson
        self._alive = alive
        self._heard = heard
        self._orders: dict[str, asyncio.Future[Stopped | None]] = {}
        self._unanswered: set[str] = set()
        self._answers: set[asyncio.Task[None]] = set()

    async def listen(self) -> None:
        """For ever. ``heard`` is told of each sign of life, and why there is none."""
        again_s = AGAIN_S
        while True:
            try:
                async with self._opened() as line:
                    again_s = AGAIN_S
                    await self._talk(line)
            except InvalidStatus as refused:
                self._heard(_refused(refused.response.status_code))
            except (OSError, TimeoutError, WebSocketException, InvalidHandshake) as trouble:
                self._heard(NotHeardError(str(trouble) or _("the line was silent")))
            await asyncio.sleep(again_s)
            again_s = min(2 * again_s, AGAIN_MOST_S)

    def _opened(self) -> connect:
        url = self._membership.url
        return connect(
            f"ws{url.removeprefix('http')}{LIVE}",
            additional_headers={"Authorization": f"Bearer {self._membership.key}"},
            ssl=believed(self._membership.certificate) if url.startswith("https") else None,
            open_timeout=OPENS_S,
            close_timeout=1.0,
            ping_interval=None,  # either side gives signs of life of its own
            max_size=MOST_BYTES,
            compression=None,
            proxy=None,
        )

    async def _talk(self, line: ClientConnection) -> None:
        for order in tuple(self._unanswered):  # the line that it came by broke
            self._begin_answer(line, order)
        telling = asyncio.create_task(self._tell(line))
        try:
            while True:
                said = await asyncio.wait_for(line.recv(), UNHEARD_S)
                self._heard(None)
                try:
                    message: ToHost = msgspec.json.decode(said, type=ToHost)
                except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
                    continue  # of a newer server
                if isinstance(message, Stop):
                    self._stop(line, message)
        finally:
            telling.cancel()
            with suppress(asyncio.CancelledError):
                await telling

    async def _tell(self, line: ClientConnection) -> None:
        with suppress(WebSocketException):  # whoever listens notices it too
            while True:
                await line.send(_said(self._alive()))
                await asyncio.sleep(ALIVE_S)

    def _stop(self, line: ClientConnection, asked: Stop) -> None:
        """First given to the lesson, then answered; one that comes again is only answered."""
        if asked.order not in self._orders:
            while len(self._orders) >= REMEMBERED:
                oldest = next(iter(self._orders))
                del self._orders[oldest]
                self._unanswered.discard(oldest)
            self._orders[asked.order] = self._lesson.stop(asked.by)
        self._begin_answer(line, asked.order)

    def _begin_answer(self, line: ClientConnection, order: str) -> None:
        self._unanswered.add(order)
        answer = asyncio.create_task(self._answer(line, order))
        self._answers.add(answer)
        answer.add_done_callback(self._answers.discard)

    async def _answer(self, line: ClientConnection, order: str) -> None:
        with suppress(WebSocketException):  # it is answered on the next line
            await line.send(_said(StopHeard(order)))
            found = await asyncio.shield(self._orders[order])
            if found is None:  # left open, it is told to be lost when its time is over
                self._unanswered.discard(order)
                return
            told = StopEnded(order=order, stopped=found.stopped, says=found.says[:500])
            await line.send(_said(told))
            self._unanswered.discard(order)


def _said(message: FromHost) -> str:
    return msgspec.json.encode(message).decode()


def _refused(status: int) -> FeedscriptError:
    if status in (401, 403):
        return NotTakenError(
            status, _("it does not know this court's key"), _("join again with a new code")
        )
    return NotHeardError(_("it answers {status}", status=status))
