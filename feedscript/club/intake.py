"""The door by which courts send what happened: ``/api/hosts/events``, with the court's key."""

from __future__ import annotations

import time
from collections.abc import Callable

import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import RefusedError, answer, court_of, told
from feedscript.club.batch import MOST_BODY_BYTES, Batch, Held
from feedscript.club.messages import EVENTS
from feedscript.club.refusals import BATCH_REFUSED
from feedscript.club.store import log
from feedscript.club.store.store import Store


class Intake:
    """The two requests of the door, on one store."""

    def __init__(self, store: Store, now_s: Callable[[], float] = time.time) -> None:
        self._store = store
        self._now_s = now_s

    def routes(self) -> list[Route]:
        """What a server mounts."""
        return [
            Route(EVENTS, told(self._take), methods=["POST"]),
            Route(EVENTS, told(self._held), methods=["GET"]),
        ]

    async def _take(self, request: Request) -> Response:
        host = await court_of(request, self._store)
        batch = _read(await _body(request))
        try:
            held = await anyio.to_thread.run_sync(
                log.take_in, self._store, host, batch.parts, self._now_s()
            )
        except log.OutOfOrderError as found:
            said = f"lesson {found.lesson}: {found}"
            raise _refused(409, said, f"send from {found.wanted} on", found.wanted) from None
        return answer(200, Held(held))

    async def _held(self, request: Request) -> Response:
        host = await court_of(request, self._store)
        return answer(200, Held(await anyio.to_thread.run_sync(log.held, self._store, host)))


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
