"""The door by which courts send what happened: ``/api/hosts/events``, with the court's key."""

from __future__ import annotations

import time
from collections.abc import Awaitable, Callable

import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.batch import MOST_BODY_BYTES, Batch, Held
from feedscript.club.refusals import BATCH_REFUSED, HOST_UNKNOWN
from feedscript.club.store import hosts, log
from feedscript.club.store.store import Store
from feedscript.diagnostics import Diagnostic, FeedscriptError, as_json

EVENTS = "/api/hosts/events"


class RefusedError(FeedscriptError):
    """What the court is told, with the status of the answer."""

    def __init__(self, status: int, diagnostic: Diagnostic, wanted: int | None = None) -> None:
        super().__init__(diagnostic)
        self.status = status
        self.wanted = wanted


class Intake:
    """The two requests of the door, on one store."""

    def __init__(self, store: Store, now_s: Callable[[], float] = time.time) -> None:
        self._store = store
        self._now_s = now_s

    def routes(self) -> list[Route]:
        """What a server mounts."""
        return [
            Route(EVENTS, _told(self._take), methods=["POST"]),
            Route(EVENTS, _told(self._held), methods=["GET"]),
        ]

    async def _take(self, request: Request) -> Response:
        host = await self._host(request)
        batch = _read(await _body(request))
        try:
            held = await anyio.to_thread.run_sync(
                log.take_in, self._store, host, batch.parts, self._now_s()
            )
        except log.OutOfOrderError as found:
            said = f"lesson {found.lesson}: {found}"
            raise _refused(409, said, f"send from {found.wanted} on", found.wanted) from None
        return _answer(200, Held(held))

    async def _held(self, request: Request) -> Response:
        host = await self._host(request)
        return _answer(200, Held(await anyio.to_thread.run_sync(log.held, self._store, host)))

    async def _host(self, request: Request) -> str:
        """Whose key came along: what a court sends is its own, whatever it says of itself."""
        kind, _, key = request.headers.get("authorization", "").partition(" ")
        found = None
        if kind.lower() == "bearer" and key:
            found = await anyio.to_thread.run_sync(hosts.host_of, self._store, key)
        if found is None:
            raise RefusedError(
                401,
                HOST_UNKNOWN.report(
                    "the club does not know this key",
                    help="join again: feedscript club join, with a new code",
                ),
            )
        return found


async def _body(request: Request) -> bytes:
    """What was sent, read no further than may be taken."""
    body = bytearray()
    async for piece in request.stream():
        body += piece
        if len(body) > MOST_BODY_BYTES:
            raise _refused(
                413, f"it is larger than {MOST_BODY_BYTES} bytes", "send fewer events at once"
            )
    return bytes(body)


def _read(body: bytes) -> Batch:
    try:
        batch = msgspec.json.decode(body, type=Batch)
        for part in batch.parts:
            for event in part.events:
                msgspec.json.decode(event.data, type=dict[str, object])
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as trouble:
        raise _refused(
            422, f"it is not as a batch is written: {trouble}", "use the club's own version"
        ) from None
    lessons = [part.lesson for part in batch.parts]
    if len(set(lessons)) < len(lessons):
        raise _refused(422, "it names a lesson twice", "send each lesson's events in one part")
    return batch


def _refused(status: int, message: str, help: str, wanted: int | None = None) -> RefusedError:
    return RefusedError(status, BATCH_REFUSED.report(message, help=help), wanted)


def _answer(status: int, told: object) -> Response:
    return Response(
        msgspec.json.encode(told),
        status,
        headers={"Cache-Control": "no-store"},
        media_type="application/json",
    )


Handler = Callable[[Request], Awaitable[Response]]


def _told(handle: Handler) -> Handler:
    """What a handler raises, as an answer; a store that is down is not the court's mistake."""

    async def handler(request: Request) -> Response:
        try:
            return await handle(request)
        except RefusedError as refused:
            told = {"diagnostic": as_json(refused.diagnostic), "wanted": refused.wanted}
            return _answer(refused.status, told)
        except FeedscriptError as down:
            return _answer(503, {"diagnostic": as_json(down.diagnostic), "wanted": None})

    return handler
