"""The desk's web application: its page, its programs, and the socket of the open one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

import anyio.to_thread
import msgspec
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import HTTPConnection, Request
from starlette.responses import FileResponse, HTMLResponse, Response
from starlette.routing import BaseRoute, Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket

from feedscript.check.check_program import Verdict, check_program
from feedscript.console.access import Access, Device, Role
from feedscript.console.page_in import STATIC as LESSON_STATIC
from feedscript.console.page_in import page_in, tongue_of
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.console.walls import (
    GuardedHeaders,
    device_of,
    device_to_show,
    paired_answer,
    read_as,
    refused_with,
    same_origin,
)
from feedscript.desk.court_routes import court_routes
from feedscript.desk.files import Programs
from feedscript.desk.first_lesson import Answers, choices, lay_out
from feedscript.desk.on_court import Court
from feedscript.desk.page import STATIC, desk_page
from feedscript.desk.played import Played, played
from feedscript.desk.program_routes import program_routes
from feedscript.desk.tested import Tested, tested
from feedscript.desk.tried import Trial, Tried, tried
from feedscript.desk.words_socket import POLICY_VIOLATION, serve_words
from feedscript.diagnostics import FeedscriptError, Page, has_errors
from feedscript.launcher.port import LauncherError
from feedscript.review.sheet.files import draw_paper
from feedscript.tongues.tongue import Tongue, Tongues

#: What the cookie's name begins with: the court-side page at the same port has another.
COOKIE = "feedscript_desk"
DESK_ONLY = Page(
    slug="desk-not-paired",
    title="The desk is open to paired browsers only",
    why=(
        "The desk changes files of this machine. A browser is let in by the one-time link that the "
        "desk shows when it starts."
    ),
)


NOT_DRAWN = Page(
    slug="not-on-paper",
    title="A program that is not put on paper",
    why="What the check refuses is not hung on a fence: people would stand where balls may come.",
)

NOT_PLAYED = Page(
    slug="not-played",
    title="A program that is not played",
    why="What the check refuses has no run: which ball would leave when is not settled.",
)

#: Scripts of the court-side page that say words in the language of the page, and choose it; and by
#: which a page is known.
SHARED = ("words.js", "language.js", "page_key.js")
#: What is made to be printed.
PAPERS = ("sheet", "cards")


class Desk(msgspec.Struct, eq=False):
    """What the handlers share. Without a ``court`` nothing is begun from this desk."""

    programs: Programs
    access: Access
    court: Court | None = msgspec.field(default_factory=Court)
    tongues: Tongues = Tongues()


def make_app(desk: Desk, hosts: tuple[str, ...], besides: Sequence[Route] = ()) -> Starlette:
    """The application. ``hosts`` are the names it answers to, as in the court-side page;
    ``besides`` is what a coach's browser may ask for more."""
    routes = _Routes(desk)
    return Starlette(
        routes=[
            Route("/", routes.page),
            Route("/pair", routes.pair, methods=["POST"]),
            *program_routes(routes.programs, desk.tongues),
            Route("/first-lesson", routes.first_lesson, methods=["GET", "POST"]),
            Route("/papers/{kind}/{name:path}", routes.paper),
            Route("/played/{name:path}", routes.played),
            Route("/tried/{name:path}", routes.tried),
            Route("/tested/{name:path}", routes.tested),
            *_to_court(desk, routes.stranger),
            *map(routes.guarded, besides),
            WebSocketRoute("/words/{name:path}", routes.words),
            *(Route(f"/static/{name}", _shared(name)) for name in SHARED),
            Mount("/desk", StaticFiles(directory=STATIC)),
        ],
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts)),
            Middleware(GuardedHeaders),
        ],
    )


def _to_court(desk: Desk, stranger: Callable[[Request], Response | None]) -> Sequence[BaseRoute]:
    if desk.court is None:
        return ()
    return court_routes(desk.programs, desk.court, stranger, desk.tongues)


def _shared(name: str) -> Callable[[Request], FileResponse]:
    """A script of the court-side page that this page has too."""
    return lambda _request: FileResponse(LESSON_STATIC / name)


def _json(value: object, tongue: Tongue) -> Response:
    """An answer to the page, with our own words in its language."""
    return Response(msgspec.json.encode(value, enc_hook=tongue), media_type="application/json")


class _Routes:
    """The handlers, around what they share."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._trying = anyio.Lock()

    def _device(self, connection: HTTPConnection) -> Device | None:
        return device_of(connection, self._desk.access, COOKIE)

    def stranger(self, request: Request) -> Response | None:
        """The answer to a browser that may not open programs; None for one that may."""
        device = self._device(request)
        if device is not None and device.role is Role.COACH:
            return None
        return refused_with(
            DESK_ONLY.report("this browser is not paired", help="open the link the desk shows"),
            401,
        )

    async def page(self, request: Request) -> Response:
        """The desk; the pairing page for a stranger."""
        if device_to_show(request, self._desk.access, COOKIE) is None:
            return HTMLResponse(self._page_in("pair.html", request))
        return desk_page(self._tongue(request), self._desk.tongues)

    def _page_in(self, name: str, request: Request) -> str:
        return page_in(name, self._tongue(request), self._desk.tongues, STATIC)

    def _tongue(self, asks: HTTPConnection) -> Tongue:
        return tongue_of(asks, self._desk.tongues)

    async def pair(self, request: Request) -> Response:
        tongue = self._tongue(request)
        return await paired_answer(request, self._desk.access, tongue, stem=COOKIE)

    async def programs(self, request: Request) -> Programs | Response:
        """The programs of whoever asks, or the answer that refuses."""
        return self.stranger(request) or self._desk.programs

    def guarded(self, route: Route) -> Route:
        """The same route, for a browser that may open programs."""

        async def answer(request: Request) -> Response:
            refused = self.stranger(request)
            return refused if refused is not None else await route.endpoint(request)

        return Route(route.path, answer, methods=list(route.methods or ()))

    async def first_lesson(self, request: Request) -> Response:
        """What a first lesson may be made of; or, by POST, the lesson for a coach's answers.

        Its words are for the page to save: nothing is written here, and nothing is run.
        """
        refused = self.stranger(request)
        if refused is not None:
            return refused
        if request.method == "GET":
            return await self._told(request, choices)
        answers = await read_as(request, Answers)
        if isinstance(answers, Response):
            return answers
        tongue = self._tongue(request)
        beside = self._desk.programs.path("first lesson")
        try:
            lesson = await anyio.to_thread.run_sync(lay_out, answers, beside)
        except FeedscriptError as failed:
            # The question is answered, by why not.
            return refused_with(failed.diagnostic, 200, tongue)
        return _json(lesson, tongue)

    async def paper(self, request: Request) -> Response:
        """The lesson's sheet or cards, to be printed."""
        refused = self.stranger(request)
        if refused is not None:
            return refused
        kind, name = (str(request.path_params[part]) for part in ("kind", "name"))
        if kind not in PAPERS:
            return refused_with(NOT_DRAWN.report(f"there is no paper called `{kind}`"), 404)
        try:
            tongue = self._tongue(request)
            html = await anyio.to_thread.run_sync(self._drawn, kind, name, tongue)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 409)
        return HTMLResponse(html, headers={"Content-Security-Policy": REVIEW_POLICY})

    def _drawn(self, kind: str, name: str, tongue: Tongue) -> bytes:
        words = self._desk.programs.read(name).words
        verdict = check_program(self._desk.programs.path(name), text=words)
        if verdict.facts is None or has_errors(verdict.diagnostics):
            raise FeedscriptError(
                NOT_DRAWN.report(
                    f"`{name}` does not pass the check", help="mend it first, then print it"
                )
            )
        suits = None if verdict.program is None else verdict.program.suits
        return draw_paper(verdict.facts, suits, kind, tongue=tongue)

    async def played(self, request: Request) -> Response:
        """The lesson's run, for the page to play."""
        refused = self.stranger(request)
        if refused is not None:
            return refused
        return await self._ran(request, partial(self._run, str(request.path_params["name"])))

    def _run(self, name: str) -> Played:
        verdict, version = self._passed(name)
        assert verdict.facts is not None
        return played(verdict.facts, version)

    async def tried(self, request: Request) -> Response:
        """The lesson with trouble in the middle of it. One at a time: it takes seconds."""
        refused = self.stranger(request)
        if refused is not None:
            return refused
        asked, late = (request.query_params.get(one, "") for one in ("what", "player"))
        if asked not in {*Trial} or not (late.isascii() and (late or "0").isdecimal()):
            return refused_with(NOT_PLAYED.report(f"there is no trouble called `{asked}`"), 404)
        name = str(request.path_params["name"])
        trial = partial(self._try, name, Trial(asked), int(late[:6] or 0))
        async with self._trying:
            return await self._ran(request, trial)

    def _try(self, name: str, trial: Trial, late: int) -> Tried:
        return tried(*self._passed(name), trial, late)

    async def tested(self, request: Request) -> Response:
        """The lesson's expectations, decided by drawn balls. One at a time: it takes seconds."""
        refused = self.stranger(request)
        if refused is not None:
            return refused
        name = str(request.path_params["name"])
        async with self._trying:
            return await self._ran(request, partial(self._test, name))

    def _test(self, name: str) -> Tested:
        return tested(*self._passed(name))

    def _passed(self, name: str) -> tuple[Verdict, str]:
        """The verdict on the saved words, and their version; FeedscriptError if they fail."""
        text = self._desk.programs.read(name)
        verdict = check_program(self._desk.programs.path(name), text=text.words)
        if verdict.facts is None or has_errors(verdict.diagnostics):
            raise FeedscriptError(
                NOT_PLAYED.report(
                    f"`{name}` does not pass the check", help="mend it first, then play it"
                )
            )
        return verdict, text.version

    async def _ran(self, request: Request, asked: Callable[[], object]) -> Response:
        try:
            answer = await anyio.to_thread.run_sync(asked)
        except (FeedscriptError, LauncherError) as failed:
            return refused_with(failed.diagnostic, 409, self._tongue(request))
        return _json(answer, self._tongue(request))

    async def _told(self, request: Request, asked: Callable[[], object]) -> Response:
        """What the programs answer; a refusal with its reason."""
        try:
            answer = await anyio.to_thread.run_sync(asked)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 404, self._tongue(request))
        return _json(answer, self._tongue(request))

    async def words(self, socket: WebSocket) -> None:
        """The language's server for one program, for a paired page of our own origin."""
        device = self._device(socket)
        if device is None or device.role is not Role.COACH or not same_origin(socket.headers):
            await socket.close(POLICY_VIOLATION)
            return
        try:
            path = self._desk.programs.path(str(socket.path_params["name"]))
        except FeedscriptError:
            await socket.close(POLICY_VIOLATION)
            return
        await socket.accept()
        await serve_words(socket, path, self._tongue(socket))
