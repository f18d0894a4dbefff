"""Pages as routes: who may see which, and what becomes of whatever is refused."""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable
from typing import Any, TypeAlias

import anyio
import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import recognised
from feedscript.club.people.pages.frame import page, refused, see_other
from feedscript.club.people.pages.html import el
from feedscript.club.people.pages.visit import RefusalError, Visit, form_of
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

#: So many passwords are tried at once: each takes its memory.
AT_ONCE = 2


class Desk:
    """What the pages share. ``who`` tells who asks, ``utc_s`` the time of day."""

    def __init__(
        self,
        store: Store,
        who: Who,
        utc_s: Callable[[], float] = time.time,
        cost: Cost = COST,
        tongues: Tongues = Tongues(),  # noqa: B008 (a frozen value)
    ) -> None:
        self.store = store
        self.who = who
        self.utc_s = utc_s
        self.cost = cost
        self.tongues = tongues
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
        self._passwords: anyio.CapacityLimiter | None = None

    def get(self, path: str, handler: Handler, may: May | None) -> Route:
        return Route(path, self._answers(path, handler, may), methods=["GET"])

    def post(self, path: str, handler: Handler, may: May | None, *, slow: bool = False) -> Route:
        """``slow``: it tries passwords."""
        return Route(path, self._answers(path, handler, may, slow=slow), methods=["POST"])

    def _answers(
        self, path: str, handler: Handler, may: May | None, *, slow: bool = False
    ) -> Callable[[Request], Awaitable[Response]]:
        async def answers(request: Request) -> Response:
            visit = self._stranger(request, path)
            try:
                visit = await self._visit(request, visit, may)
                limiter = self._limiter() if slow else None
                return await anyio.to_thread.run_sync(handler, self._desk, visit, limiter=limiter)
            except RefusalError as refusal:
                return refused(visit, refusal)
            except _SignInFirstError:
                return see_other("/")
            except FeedscriptError as down:
                return _down(visit, down)

        return answers

    def _limiter(self) -> anyio.CapacityLimiter:
        if self._passwords is None:
            self._passwords = anyio.CapacityLimiter(AT_ONCE)
        return self._passwords

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

    async def _visit(self, request: Request, visit: Visit, may: May | None) -> Visit:
        if request.method == "POST":
            if not same_origin(request.headers):
                raise RefusalError(
                    403,
                    _("That did not come from a page of this club"),
                    _("Another page sent it, or the browser does not say which. Try it here."),
                )
            visit = msgspec.structs.replace(visit, form=await form_of(request))
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
