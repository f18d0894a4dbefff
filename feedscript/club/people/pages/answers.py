"""Pages as routes: who may see which, and what becomes of whatever is refused."""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any, TypeAlias

import anyio
import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import recognised
from feedscript.club.people.pages.frame import page, refused, see_other
from feedscript.club.people.pages.html import el
from feedscript.club.people.pages.visit import MOST_FORM_BYTES, RefusalError, Visit, form_of
from feedscript.club.people.passwords import COST, Cost
from feedscript.club.store.people import forgotten
from feedscript.club.store.store import Store
from feedscript.club.tombstones import name_hash
from feedscript.club.who import Person, Role, Who
from feedscript.console.page_in import tongue_of
from feedscript.console.walls import same_origin
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.redaction import name_key
from feedscript.review.report.export import as_text
from feedscript.tongues.text import _
from feedscript.tongues.tongue import Tongues

if TYPE_CHECKING:
    from feedscript.club.people.oidc import Oidc

#: So many of the works that take long are done at once, each kind apart: trying a password takes
#: its memory, checking a program the processor, another service may not answer, and none of them
#: may keep a STOP waiting.
AT_ONCE = {"passwords": 2, "checks": 1, "launchers": 1, "services": 4}


class Desk:
    """What the pages share. ``who`` tells who asks, ``utc_s`` the time of day; ``oidc`` is another
    service by which people may sign in."""

    def __init__(
        self,
        store: Store,
        who: Who,
        utc_s: Callable[[], float] = time.time,
        cost: Cost = COST,
        tongues: Tongues = Tongues(),  # noqa: B008 (a frozen value)
        oidc: Oidc | None = None,
    ) -> None:
        self.store = store
        self.who = who
        self.utc_s = utc_s
        self.cost = cost
        self.tongues = tongues
        self.oidc = oidc
        self._key = ""

    def id_of(self, player: str) -> str:
        """What stands for a player in an address: the same each time, and not to be read."""
        if not self._key:
            with self.store.writing() as connection:
                self._key = forgotten.tombstone_key(connection)
        return name_hash(self._key, ("address", *name_key(player)))[:24]


Handler: TypeAlias = Callable[[Desk, Visit], Response]
May: TypeAlias = Callable[[Person], bool]


def anybody(_person: Person) -> bool:
    """Whoever has signed in."""
    return True


def coaches(person: Person) -> bool:
    return person.role in (Role.COACH, Role.HEAD_COACH)


def head_coach(person: Person) -> bool:
    return person.role is Role.HEAD_COACH


class Routes:
    """Makes routes of handlers."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._queues: dict[str, anyio.CapacityLimiter] = {}

    def get(self, path: str, handler: Handler, may: May | None, *, queue: str = "") -> Route:
        """``queue``: which of the works that take long (:data:`AT_ONCE`) it is."""
        answers = self._answers(path, handler, may, queue, MOST_FORM_BYTES)
        return Route(path, answers, methods=["GET"])

    def post(
        self,
        path: str,
        handler: Handler,
        may: May | None,
        *,
        queue: str = "",
        most_bytes: int = MOST_FORM_BYTES,
    ) -> Route:
        """The same for a form of so many bytes at most."""
        answers = self._answers(path, handler, may, queue, most_bytes)
        return Route(path, answers, methods=["POST"])

    def _answers(
        self, path: str, handler: Handler, may: May | None, queue: str, most_bytes: int
    ) -> Callable[[Request], Awaitable[Response]]:
        async def answers(request: Request) -> Response:
            visit = self._stranger(request, path)
            try:
                visit = await self._visit(request, visit, may, most_bytes)
                limiter = self._limiter(queue) if queue else None
                return await anyio.to_thread.run_sync(handler, self._desk, visit, limiter=limiter)
            except RefusalError as refusal:
                return refused(visit, refusal)
            except _SignInFirstError:
                return see_other("/")
            except FeedscriptError as down:
                return _down(visit, down)

        return answers

    def _limiter(self, queue: str) -> anyio.CapacityLimiter:
        if queue not in self._queues:
            self._queues[queue] = anyio.CapacityLimiter(AT_ONCE[queue])
        return self._queues[queue]

    def _stranger(self, request: Request, path: str) -> Visit:
        # As the browser writes it: another server may stand before this one.
        here = f"{request.url.scheme}://{request.headers.get('host', '')}"
        base = request.headers.get("origin", here)
        return Visit(
            tongue=tongue_of(request, self._desk.tongues),
            tongues=self._desk.tongues,
            person=None,
            path={**request.path_params, "here": path},
            query=dict(request.query_params),
            form={},
            cookies=request.cookies,
            address=request.client.host if request.client else "",
            base=base,
            secure=base.startswith("https:"),
            now_utc_s=self._desk.utc_s(),
        )

    async def _visit(
        self, request: Request, visit: Visit, may: May | None, most_bytes: int
    ) -> Visit:
        if request.method == "POST":
            if not same_origin(request.headers):
                raise RefusalError(
                    403,
                    _("That did not come from a page of this club"),
                    _("Another page sent it, or the browser does not say which. Try it here."),
                )
            visit = msgspec.structs.replace(visit, form=await form_of(request, most_bytes))
        person = await anyio.to_thread.run_sync(self._desk.who, request)
        visit = msgspec.structs.replace(visit, person=person)
        if person is not None:
            recognised(request)
        if may is not None:
            if person is None:
                raise _SignInFirstError
            if not may(person):
                raise RefusalError(
                    403,
                    _("That is not yours to do"),
                    _("The head coach can do it, or say who may."),
                )
        return visit


class _SignInFirstError(Exception):
    """Nobody has signed in."""


def _down(visit: Visit, trouble: FeedscriptError) -> Response:
    said = trouble.diagnostic
    words = el("p", said.message), el("p", said.help or "")
    return page(visit, _("The club cannot answer just now"), *words, status=503)


def download(found: dict[str, Any], name: str) -> Response:
    """JSON for whoever asks what is known."""
    return Response(
        as_text(found),
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
