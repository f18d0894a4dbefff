"""The web application around one :class:`Viewing`: its page, what it is told, and its answers."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Annotated, TypeVar

import msgspec
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from feedscript.console.access import Access
from feedscript.console.page_in import STATIC as LESSON_STATIC
from feedscript.console.page_in import page_in, tongue_of
from feedscript.console.walls import (
    GuardedHeaders,
    device_of,
    device_to_show,
    paired_answer,
    read_as,
    refused_with,
)
from feedscript.court.landmarks import End
from feedscript.diagnostics import FeedscriptError, Page
from feedscript.tongues.tongue import Tongue, Tongues
from feedscript.viewing.apart import apart
from feedscript.viewing.pictures import Part, Pictures
from feedscript.viewing.told import told
from feedscript.viewing.viewing import Viewing
from feedscript.watch.found import Said
from feedscript.watch.ruler.points import named_places

STATIC = Path(__file__).parent / "static"
#: What the cookie's name begins with: the desk and the court-side page have others.
COOKIE = "feedscript_film"
#: Every point of a court, with its name.
MOST_REQUEST = 8192
#: Scripts of the court-side page: words in the page's language, and pairing.
SHARED = ("words.js", "language.js", "pair.js", "page_key.js")

FILM_ONLY = Page(
    slug="film-not-paired",
    title="A film is shown to paired browsers only",
    why=(
        "A film shows people. A browser is let in by the one-time link that the command shows when "
        "the page starts, and the page is served by this machine to itself alone."
    ),
)

Pixel = Annotated[float, msgspec.Meta(ge=-1e5, le=1e5)]
S = TypeVar("S", bound=msgspec.Struct)


class Pins(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Points that a person has put where they are; ``by_lines=False`` while a hand still moves."""

    pins: dict[str, tuple[Pixel, Pixel]]
    camera_at: End | None = None
    by_lines: bool = True


class Answer(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a person says of a ball; null takes it back."""

    number: int
    said: Said | None


class Nothing(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A request that says all by its address."""


def make_app(
    viewing: Viewing,
    access: Access,
    hosts: tuple[str, ...],
    done: Callable[[], None],
    tongues: Tongues = Tongues(),  # noqa: B008 (a frozen value)
) -> Starlette:
    """The application. ``hosts`` are the names it answers to; ``done`` is called when a person has
    finished."""
    routes = _Routes(viewing, access, done, tongues)
    return Starlette(
        routes=[
            Route("/", routes.page),
            Route("/pair", routes.pair, methods=["POST"]),
            Route("/told", routes.told),
            Route("/stills/{part:int}.jpg", routes.still),
            Route("/balls/{number:int}/{part}.jpg", routes.picture),
            Route("/pins", routes.pins, methods=["POST"]),
            Route("/ends", routes.ends, methods=["POST"]),
            Route("/yes", routes.yes, methods=["POST"]),
            Route("/leave-out", routes.leave_out, methods=["POST"]),
            Route("/back", routes.back, methods=["POST"]),
            Route("/said", routes.said, methods=["POST"]),
            Route("/finish", routes.finish, methods=["POST"]),
            *(Route(f"/static/{name}", _shared(name)) for name in SHARED),
            Mount("/film", StaticFiles(directory=STATIC)),
        ],
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts)),
            Middleware(GuardedHeaders),
        ],
    )


def _shared(name: str) -> Callable[[Request], FileResponse]:
    return lambda _request: FileResponse(LESSON_STATIC / name)


def _jpeg(data: bytes | None) -> Response:
    return Response(status_code=404) if data is None else Response(data, media_type="image/jpeg")


class _Routes:
    """The handlers, around what they share."""

    def __init__(
        self, viewing: Viewing, access: Access, done: Callable[[], None], tongues: Tongues
    ) -> None:
        self._viewing, self._access, self._done = viewing, access, done
        self._tongues, self._pictures = tongues, Pictures(viewing)

    def _tongue(self, request: Request) -> Tongue:
        return tongue_of(request, self._tongues)

    def _stranger(self, request: Request) -> Response | None:
        """The answer to a browser that was not let in; None for one that was."""
        if device_of(request, self._access, COOKIE) is not None:
            return None
        report = FILM_ONLY.report(
            "this browser is not paired", help="open the link that the command shows"
        )
        return refused_with(report, 401)

    async def _asked(self, request: Request, shape: type[S]) -> S | Response:
        """What a paired page of our own asks, or the answer that refuses it."""
        return self._stranger(request) or await read_as(request, shape, MOST_REQUEST)

    async def _then(self, request: Request, act: Callable[[], object]) -> Response:
        """The page as it is after an act, which may take its time."""
        await apart(act)
        page = await apart(partial(told, self._viewing))
        body = msgspec.json.encode(page, enc_hook=self._tongue(request))
        return Response(body, media_type="application/json")

    async def page(self, request: Request) -> Response:
        shown = device_to_show(request, self._access, COOKIE)
        name = "pair.html" if shown is None else "film.html"
        return HTMLResponse(page_in(name, self._tongue(request), self._tongues, STATIC))

    async def pair(self, request: Request) -> Response:
        return await paired_answer(request, self._access, self._tongue(request), stem=COOKIE)

    async def told(self, request: Request) -> Response:
        return self._stranger(request) or await self._then(request, lambda: None)

    async def still(self, request: Request) -> Response:
        if refused := self._stranger(request):
            return refused
        return _jpeg(self._pictures.still(int(request.path_params["part"])))

    async def picture(self, request: Request) -> Response:
        """A picture of one ball."""
        if refused := self._stranger(request):
            return refused
        number, part = int(request.path_params["number"]), str(request.path_params["part"])
        try:
            wanted = msgspec.convert(part, Part)
            made = partial(self._pictures.of_ball, number, wanted)
            data = await apart(made)
        except msgspec.ValidationError:
            data = None
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 409)
        return _jpeg(data)

    async def pins(self, request: Request) -> Response:
        """The court anew, by the points that are shown."""
        asked = await self._asked(request, Pins)
        if isinstance(asked, Response):
            return asked
        if set(asked.pins) - set(named_places(self._viewing.film.court)):
            return Response("no such point", status_code=400)
        show = partial(self._viewing.show, asked.pins, asked.camera_at, by_lines=asked.by_lines)
        return await self._then(request, show)

    async def _said_by_address(self, request: Request, act: Callable[[], object]) -> Response:
        asked = await self._asked(request, Nothing)
        return asked if isinstance(asked, Response) else await self._then(request, act)

    async def ends(self, request: Request) -> Response:
        return await self._said_by_address(request, self._viewing.change_ends)

    async def yes(self, request: Request) -> Response:
        answer = await self._said_by_address(request, self._viewing.say_yes)
        self._end_where_done()
        return answer

    async def leave_out(self, request: Request) -> Response:
        answer = await self._said_by_address(request, self._viewing.leave_out)
        self._end_where_done()
        return answer

    async def back(self, request: Request) -> Response:
        def back() -> None:
            self._viewing.go_back()
            self._pictures.forget()

        return await self._said_by_address(request, back)

    async def said(self, request: Request) -> Response:
        asked = await self._asked(request, Answer)
        if isinstance(asked, Response):
            return asked
        return await self._then(request, partial(self._viewing.say, asked.number, asked.said))

    async def finish(self, request: Request) -> Response:
        answer = await self._said_by_address(request, self._viewing.finish)
        self._end_where_done()
        return answer

    def _end_where_done(self) -> None:
        if self._viewing.finished:
            self._done()
