"""Running the console beside a lesson, in a thread of its own."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from functools import partial
from socket import socket
from typing import Literal

import anyio
import anyio.to_thread
import msgspec
import uvicorn
from anyio.from_thread import BlockingPortal
from starlette.types import ASGIApp

from feedscript.console.acceptor import Acceptor, RequestsTold, paired_by
from feedscript.console.access import Access, Role
from feedscript.console.app import make_app
from feedscript.console.broadcast import Broadcast
from feedscript.console.connections import IDLE_S
from feedscript.console.lesson_proxy import LessonProxy
from feedscript.console.listening import LOOPBACK, Listening, listen
from feedscript.console.messages import MOST_BYTES
from feedscript.console.pairing import qr_terminal
from feedscript.console.socket import Console
from feedscript.diagnostics import Page
from feedscript.host.event_loop import run_watching
from feedscript.override import override
from feedscript.session.engine.wall_clock import elapsed_s
from feedscript.session.operator.controller import Controller
from feedscript.tongues.text import _
from feedscript.tongues.tongue import Tongue, Tongues

PAGE_ENDED = Page(
    slug="page-ended",
    title="The court-side page has ended before its lesson",
    why=(
        "The page is served beside the lesson, and a fault in it does not touch the lesson. A "
        "phone that watches says that it lost the link; its STOP does nothing then."
    ),
)

#: How long the page is given to say good-bye to those who watch.
GOODBYE_S = 1
#: A page that does not end by then is left to end with the process.
THREAD_ENDS_S = 3.0


class Served(msgspec.Struct, eq=False):
    """A console that answers; the :class:`feedscript.terminal.run.Pairing` of a terminal."""

    url: str
    access: Access
    on_court_network: bool = False
    _invited: Role = Role.COACH

    def pairing_link(self, role: Role) -> str:
        """A fresh one-time link; the code stands behind the #, which no server's log sees."""
        return f"{self.url}/#{self.access.new_code(role)}"

    def invite(self, viewer: bool) -> str:
        """A fresh link in words, with its QR code where another device can reach it."""
        self._invited = Role.VIEWER if viewer else Role.COACH
        link = self.pairing_link(self._invited)
        words = "a screen for the group" if viewer else "court-side page"
        if not self.on_court_network:
            hint = "(on this machine only; --court-network lets a phone in)"
            return f"{words}: {link}\n{hint}\n"
        return f"{qr_terminal(link)}{words}: {link}\n"

    def is_open(self) -> bool:
        """Whether the last invitation still waits for its device."""
        return self.access.waits_for_a(self._invited)


class PageServer(uvicorn.Server):
    """uvicorn behind an acceptor of ours. In a thread it takes no signals: Ctrl-C belongs to the
    lesson, which stops first."""

    def __init__(self, config: uvicorn.Config, acceptor: Acceptor) -> None:
        super().__init__(config)
        self._acceptor = acceptor
        self.servers = []

    @override
    async def startup(self, sockets: list[socket] | None = None) -> None:
        """Take connections ourselves instead of a listening socket of uvicorn's own."""
        make: Callable[..., asyncio.Protocol] = self.config.http_protocol_class
        await self.lifespan.startup()
        if self.lifespan.should_exit:
            self.should_exit = True
            return
        state = self.lifespan.state
        self._acceptor.open(
            partial(make, config=self.config, server_state=self.server_state, app_state=state)
        )
        self.started = True

    @override
    async def shutdown(self, sockets: list[socket] | None = None) -> None:
        self._acceptor.close()
        await super().shutdown(sockets)
        self._acceptor.let_everybody_go()


class _PageThread:
    """The page's thread, from the lesson's side."""

    def __init__(
        self,
        lesson: Controller,
        listening: Listening,
        access: Access,
        review: Callable[[Tongue], str] | None,
        tongues: Tongues,
    ) -> None:
        self._lesson = lesson
        self._review = review
        self._tongues = tongues
        self._view = lesson.view
        self._listening = listening
        self._access = access
        self._portal = BlockingPortal()
        self._ready = threading.Event()
        self._server: PageServer | None = None
        self.proxy: LessonProxy | None = None
        self._thread = threading.Thread(target=self._run, name="court-side page", daemon=True)

    @asynccontextmanager
    async def running(self) -> AsyncIterator[None]:
        """The page answers inside the context."""
        async with self._portal:
            self._thread.start()
            await anyio.to_thread.run_sync(self._ready.wait)
            try:
                yield
            finally:
                with anyio.CancelScope(shield=True):
                    if self._server is not None:
                        self._server.should_exit = True
                    await anyio.to_thread.run_sync(self._thread.join, THREAD_ENDS_S)
                    await self._portal.stop(cancel_remaining=True)

    def _run(self) -> None:
        """The thread, to its end. A page that ends by a fault leaves the lesson going on without
        it, and whoever looks at the lesson elsewhere is told so."""
        try:
            run_watching(self._serve())
        except Exception as fault:  # noqa: BLE001 (the rim of the thread)
            said = PAGE_ENDED.report(
                _("the court-side page is served no more: {fault}", fault=repr(fault)),
                help=_("go on and stop from the terminal; resume the lesson to have the page back"),
            )
            with suppress(RuntimeError):  # the lesson has ended before
                self._portal.start_task_soon(self._lesson.notice, said)
        finally:
            self._ready.set()

    async def _serve(self) -> None:
        self.proxy = LessonProxy(self._lesson, self._view, self._portal)
        console = Console(
            self.proxy, self._access, Broadcast(self.proxy), self._review, self._tongues
        )
        acceptor = Acceptor(self._listening.socket, self._listening.tls)
        app = make_app(console, hosts_of(self._listening), url_of(self._listening))
        told = RequestsTold(app, acceptor, paired_by(self._access))
        self._server = PageServer(page_config(told), acceptor)
        follows = asyncio.create_task(console.broadcast.follow())
        asyncio.get_running_loop().call_soon(self._ready.set)
        await self._server.serve([self._listening.socket])
        follows.cancel()


def page_config(
    app: ASGIApp, *, lifespan: Literal["on", "off"] = "off", most_bytes: int = 2 * MOST_BYTES
) -> uvicorn.Config:
    """How a page is served, whatever it shows; ``lifespan`` "on" for one with works beside it, and
    ``most_bytes`` the longest message that it may be sent over a socket."""
    return uvicorn.Config(
        app,
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,  # whoever says that he comes from elsewhere is not believed
        ws="websockets-sansio",
        ws_max_size=most_bytes,
        # Packing each state anew for each screen would cost the page's machine too much.
        ws_per_message_deflate=False,
        ws_ping_interval=5.0,
        ws_ping_timeout=5.0,
        timeout_keep_alive=int(IDLE_S),  # the acceptor has less patience with strangers
        timeout_graceful_shutdown=GOODBYE_S,
        lifespan=lifespan,
    )


def hosts_of(listening: Listening) -> tuple[str, ...]:
    """The names that the page answers to."""
    return (listening.reached.split(":")[0], "localhost", LOOPBACK)


def url_of(listening: Listening) -> str:
    """The page's address."""
    return f"{'http' if listening.tls is None else 'https'}://{listening.reached}"


@asynccontextmanager
async def serve(
    lesson: Controller,
    listening: Listening | None = None,
    review: Callable[[Tongue], str] | None = None,
    access: Access | None = None,
    tongues: Tongues = Tongues(),  # noqa: B008 (a frozen value)
) -> AsyncIterator[Served]:
    """Serve the page for as long as the context lasts (asyncio only, as uvicorn is); without a
    socket that listens, on this machine alone at any free port. ``review`` gives the lesson's
    review in a language; it is called in any thread. ``access`` keeps devices paired that were so
    before."""
    listening = listening or listen(False, 0)
    access = access or Access(elapsed_s)
    page = _PageThread(lesson, listening, access, review, tongues)
    async with page.running(), anyio.create_task_group() as group:
        assert page.proxy is not None
        group.start_soon(page.proxy.tell)
        try:
            yield Served(url_of(listening), access, listening.on_court_network)
        finally:
            group.cancel_scope.cancel()
