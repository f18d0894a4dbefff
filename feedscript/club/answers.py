"""How the club's server answers: JSON, and a diagnostic with whatever it refuses."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TypeAlias, TypeVar

import anyio.to_thread
import msgspec
from starlette.requests import ClientDisconnect, HTTPConnection, Request
from starlette.responses import Response

from feedscript.club.known import Known
from feedscript.club.refusals import HOST_UNKNOWN, NOT_ALLOWED, REQUEST_REFUSED, SIGN_IN
from feedscript.club.store import hosts
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Who
from feedscript.console.acceptor import RECOGNISE
from feedscript.console.walls import body_of, same_origin
from feedscript.diagnostics import Diagnostic, FeedscriptError, as_json

S = TypeVar("S", bound=msgspec.Struct)
Handler: TypeAlias = Callable[[Request], Awaitable[Response]]


class RefusedError(FeedscriptError):
    """What the asker is told, with the status of the answer."""

    def __init__(self, status: int, diagnostic: Diagnostic, wanted: int | None = None) -> None:
        super().__init__(diagnostic)
        self.status = status
        self.wanted = wanted


def answer(status: int, told: object) -> Response:
    """Any struct as JSON."""
    return Response(
        msgspec.json.encode(told),
        status,
        headers={"Cache-Control": "no-store"},
        media_type="application/json",
    )


def told(handle: Handler) -> Handler:
    """What a handler raises, as an answer; a store that is down is not the asker's mistake."""

    async def handler(request: Request) -> Response:
        try:
            return await handle(request)
        except RefusedError as refused:
            said = {"diagnostic": as_json(refused.diagnostic), "wanted": refused.wanted}
            return answer(refused.status, said)
        except ClientDisconnect:
            return Response(status_code=400)  # nobody is there to read it
        except FeedscriptError as down:
            return answer(503, {"diagnostic": as_json(down.diagnostic), "wanted": None})

    return handler


async def read_as(request: Request, shape: type[S], most_bytes: int) -> S:
    """The request's JSON in the shape that it must have. Raises RefusedError."""
    body = await body_of(request, most_bytes)
    if body is None:
        raise RefusedError(413, _not_understood(f"it is larger than {most_bytes} bytes"))
    try:
        return msgspec.json.decode(body, type=shape)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as trouble:
        raise RefusedError(422, _not_understood(f"not as such a request is: {trouble}")) from None


def _not_understood(message: str) -> Diagnostic:
    return REQUEST_REFUSED.report(message, help="use the club's own version of feedscript")


async def court_of(asks: HTTPConnection, store: Store) -> str:
    """Whose key came along: what a court says is its own, whatever it says of itself. Raises
    RefusedError."""
    kind, _, key = asks.headers.get("authorization", "").partition(" ")
    found = None
    if kind.lower() == "bearer" and key:
        found = await anyio.to_thread.run_sync(hosts.host_of, store, key)
    if found is None:
        raise RefusedError(
            401,
            HOST_UNKNOWN.report(
                "the club does not know this key",
                help="join again: feedscript club join, with a new code",
            ),
        )
    recognised(asks)
    return found


def _of_our_page(asks: HTTPConnection) -> bool:
    """A browser names the page that asks, but for a page of the same server that only reads."""
    reads = asks.scope["type"] == "http" and asks.scope["method"] in ("GET", "HEAD")
    if reads and "origin" not in asks.headers:
        return True
    return same_origin(asks.headers)


async def person_of(
    asks: HTTPConnection, who: Who, may: Callable[[Person], bool], what: str
) -> Person:
    """Who asks from a page of this server, if that person may. Raises RefusedError."""
    if not _of_our_page(asks):
        raise RefusedError(
            403,
            NOT_ALLOWED.report(
                "what asks is no page of this server", help="open the club's own page"
            ),
        )
    person = await anyio.to_thread.run_sync(who, asks)
    if person is None:
        raise RefusedError(401, SIGN_IN.report("nobody has signed in", help="sign in"))
    if not may(person):
        raise RefusedError(
            403,
            NOT_ALLOWED.report(f"a {person.role} may not {what}", help="ask the head coach"),
        )
    recognised(asks)
    return person


def recognised(asks: HTTPConnection) -> None:
    """The door keeps room for whoever was recognised, and gives this request more time."""
    known = getattr(asks.app.state, "known", None)
    name = known.recognised(asks) if isinstance(known, Known) else None
    if name is not None and RECOGNISE in asks.scope:
        asks.scope[RECOGNISE](name)
