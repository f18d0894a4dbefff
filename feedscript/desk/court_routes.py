"""What the desk's page asks about lessons on court: where to, how it stands, where its page is."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import partial
from typing import Annotated, Any

import anyio
import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from feedscript.check.check_program import check_program
from feedscript.console.page_in import tongue_of
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.console.walls import read_as, refused_with
from feedscript.desk.files import Programs
from feedscript.desk.lesson_messages import Asked
from feedscript.desk.on_court import NOT_ON_COURT, Court
from feedscript.desk.reviews import Held, lessons_held, review_of_lesson
from feedscript.desk.suggestions import Suggested, suggestions
from feedscript.diagnostics import FeedscriptError
from feedscript.editor.document import open_document
from feedscript.journal.store import default_journal_path
from feedscript.launcher.port import LauncherError
from feedscript.launcher.tools import tool
from feedscript.tongues.tongue import Tongue, Tongues
from feedscript.visible import on_one_line

Address = Annotated[str, msgspec.Meta(min_length=1, max_length=300)]
#: Handles a request of a paired coach's browser.
Handler = Callable[[Request], Awaitable[Response]]


class Begin(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Which version of a program to begin, or which of its lessons to go on with, by which
    addresses in the program's order, and whether a phone on the court's network may be let in."""

    program: Annotated[str, msgspec.Meta(max_length=200)]
    version: str
    launchers: Annotated[tuple[Address, ...], msgspec.Meta(max_length=20)]
    court_network: bool = False
    lesson: int | None = None


class Nothing(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A request that says it all by its name."""


class Reachable(msgspec.Struct, frozen=True):
    """An address that was found, and what is there."""

    address: str
    what: str


class Where(msgspec.Struct, frozen=True, kw_only=True):
    """The launchers that a program wants, by their names, and what was found."""

    wanted: tuple[str, ...]
    found: tuple[Reachable, ...]


def court_routes(
    programs: Programs,
    court: Court,
    stranger: Callable[[Request], Response | None],
    tongues: Tongues,
) -> list[Route]:
    """The routes. ``stranger`` gives the answer to a browser that may not begin lessons."""
    asks = _Routes(programs, court, tongues)

    def guarded(handler: Handler) -> Handler:
        async def answer(request: Request) -> Response:
            return stranger(request) or await handler(request)

        return answer

    return [
        Route("/court", guarded(asks.standing)),
        Route("/court/launchers/{name:path}", guarded(asks.launchers)),
        Route("/court/begin", guarded(asks.begin), methods=["POST"]),
        Route("/court/page", guarded(asks.page), methods=["POST"]),
        Route("/court/give-up", guarded(asks.give_up), methods=["POST"]),
        Route("/court/stands-still", guarded(asks.stands_still), methods=["POST"]),
        Route("/lessons/{name:path}", guarded(asks.lessons)),
        Route("/reviews/{number:int}", guarded(asks.review)),
        Route("/suggestions/{number:int}/{name:path}", guarded(asks.suggested)),
    ]


def _json(value: object, tongue: Tongue) -> Response:
    return Response(msgspec.json.encode(value, enc_hook=tongue), media_type="application/json")


class _Routes:
    """The handlers, around what they share."""

    def __init__(self, programs: Programs, court: Court, tongues: Tongues) -> None:
        self._programs, self._court, self._tongues = programs, court, tongues

    def _tongue(self, request: Request) -> Tongue:
        return tongue_of(request, self._tongues)

    async def standing(self, request: Request) -> Response:
        return _json(self._court.standing, self._tongue(request))

    async def launchers(self, request: Request) -> Response:
        """What the program wants, and what is in reach."""
        name = str(request.path_params["name"])
        try:
            wanted = await anyio.to_thread.run_sync(partial(self._wanted, name, ""))
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 409, self._tongue(request))
        return _json(Where(wanted=wanted, found=await _found()), self._tongue(request))

    def _wanted(self, name: str, version: str) -> tuple[str, ...]:
        """The names of the program's launchers. Raises FeedscriptError where it may not run, or is
        another version than the one that was looked at (if one was)."""
        text = self._programs.read(name)
        if version not in ("", text.version):
            raise FeedscriptError(
                NOT_ON_COURT.report(
                    f"`{name}` was changed somewhere else", help="open it again, look, then begin"
                )
            )
        verdict = check_program(self._programs.path(name), text=text.words)
        if not verdict.ok or verdict.plan is None:
            raise FeedscriptError(
                NOT_ON_COURT.report(f"`{name}` does not pass the check", help="mend it first")
            )
        return tuple(on_one_line(one.name or "") for one in verdict.plan.launchers)

    async def begin(self, request: Request) -> Response:
        """Start the lesson's process, which connects to the launchers. Nothing is armed by it."""
        asked = await read_as(request, Begin)
        if isinstance(asked, Response):
            return asked
        try:
            await anyio.to_thread.run_sync(self._begin, asked)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 409, self._tongue(request))
        return _json(self._court.standing, self._tongue(request))

    def _begin(self, asked: Begin) -> None:
        # A lesson that was broken off was checked when it began, and is judged again by its engine.
        again = asked.lesson is not None
        wanted = () if again else self._wanted(asked.program, asked.version)
        if not again and len(asked.launchers) != len(wanted):
            raise FeedscriptError(
                NOT_ON_COURT.report(
                    f"the program has {len(wanted)} launcher(s)", help="give an address for each"
                )
            )
        what = Asked(
            program=str(self._programs.path(asked.program).resolve()),
            version=asked.version,
            lesson=asked.lesson,
            urls=asked.launchers,
            court_network=asked.court_network,
        )
        self._court.begin(asked.program, what)

    async def page(self, request: Request) -> Response:
        """A fresh link that lets one browser in, once."""
        return await self._told(request, lambda: {"link": self._court.link()})

    async def give_up(self, request: Request) -> Response:
        return await self._told(request, self._court.give_up)

    async def stands_still(self, request: Request) -> Response:
        return await self._told(request, self._court.stands_still)

    async def lessons(self, request: Request) -> Response:
        """Those that were held of this program."""
        name = str(request.path_params["name"])
        try:
            held = await anyio.to_thread.run_sync(self._lessons, name)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 409, self._tongue(request))
        return _json(held, self._tongue(request))

    def _lessons(self, name: str) -> tuple[Held, ...]:
        path, text = self._programs.path(name), self._programs.read(name)
        program = check_program(path, text=text.words).program
        title = "" if program is None else program.title
        return lessons_held(default_journal_path(), title, path)

    async def review(self, request: Request) -> Response:
        """The review of one lesson."""
        number = int(request.path_params["number"])
        told = partial(review_of_lesson, default_journal_path(), number, self._tongue(request))
        try:
            html = await anyio.to_thread.run_sync(told, self._programs)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 404, self._tongue(request))
        return HTMLResponse(html, headers={"Content-Security-Policy": REVIEW_POLICY})

    async def suggested(self, request: Request) -> Response:
        """What the records of a lesson suggest for a program, as it is saved."""
        number, name = int(request.path_params["number"]), str(request.path_params["name"])
        try:
            found = await anyio.to_thread.run_sync(self._suggested, number, name)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 409, self._tongue(request))
        return _json(found, self._tongue(request))

    def _suggested(self, number: int, name: str) -> Suggested:
        text = self._programs.read(name)
        document = open_document(self._programs.path(name), text.words)
        found = suggestions(default_journal_path(), number, document)
        return Suggested(version=text.version, suggestions=found)

    async def _told(self, request: Request, done: Callable[[], Any]) -> Response:
        """What came of it; else how the lesson stands."""
        asked = await read_as(request, Nothing)
        if isinstance(asked, Response):
            return asked
        try:
            answer = await anyio.to_thread.run_sync(done)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 409, self._tongue(request))
        return _json(answer or self._court.standing, self._tongue(request))


async def _found() -> tuple[Reachable, ...]:
    """The serial ports of this machine; the radio is not listened to, and nobody is asked."""
    try:
        search = tool("find")
    except LauncherError:
        return ()
    found, _ = await anyio.to_thread.run_sync(
        partial(anyio.run, partial(search, 0.0, knocks=False))
    )
    return tuple(Reachable(one.address, on_one_line(one.what)) for one in found)
