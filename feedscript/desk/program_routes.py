"""What the desk's page asks of programs, wherever they are kept: the list, the words, saving them,
earlier versions."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TypeAlias

import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from feedscript.console.page_in import tongue_of
from feedscript.console.walls import read_as, refused_with
from feedscript.desk.files import Programs
from feedscript.diagnostics import FeedscriptError
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.tongues.tongue import Tongues

#: JSON may write a character in six.
MOST_REQUEST = 6 * MOST_BYTES + 10_000

#: The programs of whoever asks, or the answer that refuses.
Whose: TypeAlias = Callable[[Request], Awaitable[Programs | Response]]


class SaveRequest(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Words to save, and the version they were made from."""

    words: str
    based_on: str = ""


class Opened(msgspec.Struct, frozen=True, kw_only=True):
    """A program as the page opens it; ``uri`` is what its editor calls it."""

    name: str
    words: str
    version: str
    uri: str


def program_routes(whose: Whose, tongues: Tongues) -> list[Route]:
    """The routes."""
    asks = _Routes(whose, tongues)
    return [
        Route("/programs", asks.listed),
        Route("/programs/{name:path}/versions", asks.versions),
        Route("/programs/{name:path}/versions/{version}", asks.version),
        Route("/programs/{name:path}", asks.program, methods=["GET", "PUT"]),
    ]


class _Routes:
    """The handlers, around what they share."""

    def __init__(self, whose: Whose, tongues: Tongues) -> None:
        self._whose, self._tongues = whose, tongues

    async def listed(self, request: Request) -> Response:
        """Every program."""
        return await self._told(request, lambda programs: programs.listed())

    async def program(self, request: Request) -> Response:
        """A program's words; or, by PUT, words to save."""
        name = str(request.path_params["name"])
        if request.method != "PUT":
            return await self._told(request, lambda programs: _opened(programs, name))
        programs = await self._whose(request)
        if isinstance(programs, Response):
            return programs
        asked = await read_as(request, SaveRequest, MOST_REQUEST)
        if isinstance(asked, Response):
            return asked
        return await self._answered(
            request, lambda: programs.save(name, asked.words, asked.based_on)
        )

    async def versions(self, request: Request) -> Response:
        """The versions that are kept."""
        name = str(request.path_params["name"])
        return await self._told(request, lambda programs: programs.versions(name))

    async def version(self, request: Request) -> Response:
        """The words of one of them."""
        name, version = (str(request.path_params[part]) for part in ("name", "version"))
        return await self._told(request, lambda programs: programs.version(name, version))

    async def _told(self, request: Request, asked: Callable[[Programs], object]) -> Response:
        """What the programs answer; a refusal with its reason."""
        programs = await self._whose(request)
        if isinstance(programs, Response):
            return programs
        return await self._answered(request, lambda: asked(programs))

    async def _answered(self, request: Request, asked: Callable[[], object]) -> Response:
        tongue = tongue_of(request, self._tongues)
        try:
            answer = await anyio.to_thread.run_sync(asked)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 404, tongue)
        told = msgspec.json.encode(answer, enc_hook=tongue)
        return Response(told, media_type="application/json")


def _opened(programs: Programs, name: str) -> Opened:
    text, path = programs.read(name), programs.path(name)
    uri = path.resolve().as_uri()
    return Opened(name=text.name, words=text.words, version=text.version, uri=uri)
