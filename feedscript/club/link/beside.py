"""The link to the club beside a running lesson, in a thread of its own with its own event loop.

It only reads the journal, and only a stop goes from it into the lesson. Whatever goes wrong here is
shown to the coach as a warning, once, and the lesson goes on.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, closing, suppress
from pathlib import Path

import anyio
import anyio.to_thread
import msgspec
from anyio.from_thread import BlockingPortal

from feedscript.club.batch import lesson_name
from feedscript.club.link.acknowledged import keeper, read_acknowledged
from feedscript.club.link.door import NOT_HEARD, Door, NotHeardError, NotTakenError, at_the_door
from feedscript.club.link.listener import Listener, Stopped
from feedscript.club.link.membership import Membership
from feedscript.club.link.outbox import Outbox
from feedscript.club.link.sender import Sender
from feedscript.club.messages import Alive
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.journal.queries import session_of
from feedscript.journal.store import read_journal
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.controller import Controller
from feedscript.session.operator.phases import Act
from feedscript.session.operator.view import LauncherView, Still
from feedscript.tongues.text import _

#: How often it is looked whether the journal has more. Design value: asking costs some
#: microseconds, and the news shall be there within a tenth of a second.
LOOK_S = 0.025
#: After a failure it is tried so much later, each time twice that, up to the most. Design values.
AGAIN_S, AGAIN_MOST_S = 0.5, 10.0
#: A club that was not heard for so long is said to be so. Design value: longer than most gaps.
TOLD_AFTER_S = 10.0
#: At the lesson's end, what still waits is given so long. Design value.
LAST_S = 2.0
#: A thread that has not ended by then is left to end with the process.
THREAD_ENDS_S = 3.0


class OfLesson(msgspec.Struct, frozen=True, kw_only=True):
    """Which lesson the link stands beside."""

    journal: Path
    session_id: int


@asynccontextmanager
async def beside_lesson(
    lesson: Controller, of: OfLesson, membership: Membership
) -> AsyncIterator[None]:
    """The club sees the lesson, and can stop it, inside the context."""
    link = _LinkThread(lesson, of, membership)
    async with link.running():
        yield


class _LinkThread:
    """The thread, from the lesson's side."""

    def __init__(self, lesson: Controller, of: OfLesson, membership: Membership) -> None:
        self._lesson = lesson
        self._of = of
        self._membership = membership
        self._portal = BlockingPortal()
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name="club link", daemon=True)

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        async with self._portal:
            self._thread.start()
            try:
                yield
            finally:
                with anyio.CancelScope(shield=True):
                    self._end.set()
                    await anyio.to_thread.run_sync(self._thread.join, THREAD_ENDS_S)
                    await self._portal.stop(cancel_remaining=True)

    def _run(self) -> None:
        """The thread, to its end."""
        try:
            asyncio.run(self._link())
        except FeedscriptError as told:
            self._notice(told.diagnostic)
        except Exception as fault:  # noqa: BLE001 (the rim of the thread)
            self._notice(
                NOT_HEARD.report(
                    _("the link to the club has ended: {fault}", fault=repr(fault)),
                    help=_("the lesson goes on; `feedscript club push` sends it afterwards"),
                )
            )

    def _notice(self, trouble: Diagnostic) -> None:
        with suppress(RuntimeError):  # the lesson has ended
            self._portal.start_task_soon(self._lesson.notice, trouble)

    async def _link(self) -> None:
        with closing(read_journal(self._of.journal)) as journal:
            head = session_of(journal, self._of.session_id)
            name = None if head is None else lesson_name(head.id, head.token)
            host = self._membership.host
            known = read_acknowledged(self._of.journal, host)
            outbox = Outbox(journal, known.held, known.elsewhere)
            async with at_the_door(
                self._membership.url, self._membership.certificate, self._membership.key
            ) as client:
                sender = Sender(Door(client), outbox, keeper(self._of.journal, known))
                link = _Link(outbox, sender, self._notice)
                listener = Listener(
                    self._membership,
                    _OverPortal(self._lesson, self._portal),
                    lambda: Alive(lesson=name, waiting=outbox.waiting),
                    link.heard,
                )
                listening = asyncio.create_task(listener.listen())
                try:
                    await link.send_until(self._end)
                finally:
                    listening.cancel()
                    with suppress(asyncio.CancelledError):
                        await listening


class _OverPortal:
    """The lesson's stop, from the link's loop."""

    def __init__(self, lesson: Controller, portal: BlockingPortal) -> None:
        self._lesson = lesson
        self._portal = portal

    def stop(self, by: str) -> asyncio.Future[Stopped | None]:
        try:
            return asyncio.wrap_future(self._portal.start_task_soon(stop, self._lesson, by))
        except RuntimeError:
            ended: asyncio.Future[Stopped | None] = asyncio.get_running_loop().create_future()
            ended.set_result(Stopped(False, "the lesson has ended"))
            return ended


async def stop(lesson: Controller, by: str) -> Stopped | None:
    """A stop of category 1 by somebody at the club; what became of it, once that is known.

    A lesson that has ended has nothing to stop only where its launchers are known to be still.
    Where one of them did not confirm it, and only its watchdog's time is over, each one's own word
    is told.
    """
    refused = await lesson.command(SimpleCommand(act=Act.STOP), by=f"club: {by}")
    if refused is not None and not lesson.view.stopping:
        return Stopped(False, "the lesson has ended")
    lost = bool(lesson.view.no_link)
    async for view in lesson.views():
        lost = lost or bool(view.no_link)
        if not view.stopping:
            break
    else:
        lost = True
    return None if lost else Stopped(True, _not_all(lesson.view.launchers))


def _not_all(launchers: Sequence[LauncherView]) -> str:
    """Each one's own word, where not every launcher has confirmed; else ""."""
    if all(one.still is Still.CONFIRMED for one in launchers):
        return ""
    return "; ".join(f"{one.name or 'the launcher'}: {one.state_words}" for one in launchers)


class _Link:
    """Sends what waits, and tells once when the club is not heard."""

    def __init__(
        self, outbox: Outbox, sender: Sender, notice: Callable[[Diagnostic], None]
    ) -> None:
        self._outbox = outbox
        self._sender = sender
        self._notice = notice
        self._heard_s = asyncio.get_running_loop().time()
        self._told: set[str] = set()

    def heard(self, trouble: FeedscriptError | None) -> None:
        """A sign of the club's life, or why there is none."""
        now_s = asyncio.get_running_loop().time()
        if trouble is None:
            self._heard_s = now_s
            self._told.discard(NOT_HEARD.slug)
        elif isinstance(trouble, NotTakenError) or now_s - self._heard_s >= TOLD_AFTER_S:
            self._tell(trouble.diagnostic)

    def _tell(self, said: Diagnostic) -> None:
        if said.slug not in self._told:
            self._told.add(said.slug)
            self._notice(said)

    async def send_until(self, end: threading.Event) -> None:
        """As it comes; then, when the lesson has ended, what is left."""
        again_s, reached = AGAIN_S, True
        while not end.is_set():
            reached = await self._send()
            again_s = AGAIN_S if reached else min(2 * again_s, AGAIN_MOST_S)
            await self._pause(LOOK_S if reached else again_s, end)
        if reached:
            with suppress(TimeoutError):
                await asyncio.wait_for(self._send(), LAST_S)

    async def _pause(self, for_s: float, end: threading.Event) -> None:
        until_s = asyncio.get_running_loop().time() + for_s
        while not end.is_set() and asyncio.get_running_loop().time() < until_s:
            await asyncio.sleep(min(for_s, LOOK_S))

    async def _send(self) -> bool:
        """Whether the club was reached, or nothing was to be sent."""
        try:
            if self._outbox.look():
                await self._sender.send_what_waits()
                self.heard(None)
        except (NotHeardError, NotTakenError) as trouble:
            self.heard(trouble)
            return False
        for why in self._outbox.aside.values():
            self._tell(why)
        return True
