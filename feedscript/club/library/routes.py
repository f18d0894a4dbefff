"""The library over the network: courts fetch it, coaches look at it and change it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

import anyio
import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.club.answers import (
    Handler,
    RefusedError,
    answer,
    court_of,
    person_of,
    read_as,
    told,
)
from feedscript.club.library.compare import compare
from feedscript.club.library.look import Looks
from feedscript.club.library.shelf import NotDoneError, Shelf
from feedscript.club.messages import HOST_LIBRARY, LIBRARY, Fetch, Fetched, Says
from feedscript.club.refusals import LIBRARY_REFUSED
from feedscript.club.server.club import Club
from feedscript.club.who import Person, may_keep_library
from feedscript.club_library import Change, Version, current, versions
from feedscript.diagnostics import as_json
from feedscript.language.resolve.loading import MOST_BYTES

Sha256 = Annotated[str, msgspec.Meta(pattern=r"\A[0-9a-f]{64}\Z")]
#: JSON may write a letter with six.
_MOST_REQUEST = 6 * MOST_BYTES + 4096


class Add(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A text for the shelf. ``words``: what it is for, or what is new in it."""

    name: Annotated[str, msgspec.Meta(max_length=100)]
    text: Annotated[str, msgspec.Meta(max_length=MOST_BYTES)]
    words: Says = ""


class Judge(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A text looked at, approved, or withdrawn, and why."""

    sha256: Sha256
    words: Says = ""


class Shown(msgspec.Struct, frozen=True, kw_only=True):
    """The library as it stands: what each name means, every text, and who did what."""

    current: dict[str, str]
    versions: tuple[Version, ...]
    changes: tuple[Change, ...]


class LibraryRoutes:
    """The requests, around the shelf."""

    def __init__(self, club: Club, shelf: Shelf, looks: Looks) -> None:
        self._club = club
        self._shelf = shelf
        self._looks = looks
        self._one: anyio.CapacityLimiter | None = None

    def routes(self) -> list[Route]:
        def route(path: str, handle: Handler, method: str = "GET") -> Route:
            return Route(path, told(handle), methods=[method])

        return [
            route(HOST_LIBRARY, self._record),
            route(HOST_LIBRARY + "/{sha256}", self._text_for_court),
            route(LIBRARY, self._shown),
            route(LIBRARY, self._add, "POST"),
            route(f"{LIBRARY}/approve", self._approve, "POST"),
            route(f"{LIBRARY}/look-at", self._look_at, "POST"),
            route(f"{LIBRARY}/withdraw", self._withdraw, "POST"),
            route(f"{LIBRARY}/compare", self._compare),
            route(LIBRARY + "/{sha256}", self._text),
        ]

    async def _record(self, request: Request) -> Response:
        """For a court: the whole record, each change signed."""
        await court_of(request, self._club.store)
        changes = await anyio.to_thread.run_sync(self._shelf.changes)
        return answer(200, Fetched(key=self._shelf.public_key, changes=changes))

    async def _text_for_court(self, request: Request) -> Response:
        await court_of(request, self._club.store)
        return await self._found(request.path_params["sha256"])

    async def _text(self, request: Request) -> Response:
        await self._coach(request)
        return await self._found(request.path_params["sha256"])

    async def _found(self, sha256: str) -> Response:
        return Response(await self._content(sha256), media_type="text/plain; charset=utf-8")

    async def _content(self, sha256: str) -> bytes:
        content = await anyio.to_thread.run_sync(self._shelf.text, sha256)
        if content is None:
            raise RefusedError(404, LIBRARY_REFUSED.report("the library has no such text"))
        return content

    async def _shown(self, request: Request) -> Response:
        await self._coach(request)
        changes = await anyio.to_thread.run_sync(self._shelf.changes)
        means = {name: one.sha256 for name, one in current(changes).items()}
        texts = tuple(versions(changes).values())
        return answer(200, Shown(current=means, versions=texts, changes=changes))

    async def _add(self, request: Request) -> Response:
        person = await self._coach(request)
        asked = await read_as(request, Add, _MOST_REQUEST)
        return await self._done(
            lambda: self._shelf.add(asked.name, asked.text, asked.words, person)
        )

    async def _approve(self, request: Request) -> Response:
        person = await self._coach(request)
        asked = await read_as(request, Judge, _MOST_REQUEST)
        return await self._done(lambda: self._shelf.approve(asked.sha256, asked.words, person))

    async def _look_at(self, request: Request) -> Response:
        person = await self._coach(request)
        asked = await read_as(request, Judge, _MOST_REQUEST)
        return await self._done(lambda: self._shelf.look_at(asked.sha256, asked.words, person))

    async def _withdraw(self, request: Request) -> Response:
        person = await self._coach(request)
        asked = await read_as(request, Judge, _MOST_REQUEST)
        return await self._done(lambda: self._shelf.withdraw(asked.sha256, asked.words, person))

    async def _compare(self, request: Request) -> Response:
        await self._coach(request)
        asked = [request.query_params.get(name, "") for name in ("one", "other")]
        one, other = [await self._named(sha256) for sha256 in asked]
        compared = await anyio.to_thread.run_sync(
            compare, self._looks, one, other, limiter=self._checking()
        )
        return answer(200, compared)

    async def _named(self, sha256: str) -> tuple[str, bytes]:
        known = versions(await anyio.to_thread.run_sync(self._shelf.changes))
        content = await self._content(sha256)
        return known[sha256].name, content

    def _checking(self) -> anyio.CapacityLimiter:
        """One at a time: a check takes the processor, which a STOP must not wait for."""
        if self._one is None:
            self._one = anyio.CapacityLimiter(1)
        return self._one

    async def _coach(self, request: Request) -> Person:
        return await person_of(request, self._club.who, may_keep_library, "keep the library")

    async def _done(self, change: Callable[[], Change]) -> Response:
        """The change made, and courts told that there is something to fetch."""
        try:
            made = await anyio.to_thread.run_sync(change, limiter=self._checking())
        except NotDoneError as refused:
            found = [as_json(one) for one in refused.found]
            return answer(409, {"diagnostic": as_json(refused.diagnostic), "found": found})
        self._club.lines.say_to_all(Fetch())
        return answer(200, made)
