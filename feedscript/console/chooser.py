"""The page between lessons: a coach's phone chooses what the next one is.

It stands behind the same walls as the page of a lesson, and paired devices stay paired. Choosing
arms nothing: the lesson that begins goes through its set-up list, and a person arms each launcher
at the launcher. While a lesson runs this page is not served, so none takes its place; after one
whose launcher did not confirm that it stopped, nothing can be chosen before a person has seen that
it stands still.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable
from typing import Annotated, Any

import anyio.to_thread
import msgspec
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from feedscript.console.access import NOT_PAIRED, Access, Role
from feedscript.console.offer import SIMULATED, Choice, Places, choices, judge, said_of
from feedscript.console.page_in import STATIC, page_in, tongue_of
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.console.walls import (
    GuardedHeaders,
    device_of,
    device_to_show,
    paired_answer,
    read_as,
    refused_with,
)
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.session.operator.phases import NOT_NOW
from feedscript.tongues.text import _, listed
from feedscript.tongues.tongue import Tongue, Tongues

NOT_TO_BEGIN = Page(
    slug="not-to-begin",
    title="A lesson that cannot begin as it was chosen",
    why=(
        "Only a program that passed the check is played, on as many launchers as it has. A lesson "
        "that was broken off goes on at real launchers only, where its balls were sent. After a "
        "launcher that did not confirm its stop, somebody looks first whether it stands still."
    ),
)

#: By which launchers: as the command was given them, or the simulated one.
GIVEN, REHEARSED = "given", "rehearsed"


class Chosen(msgspec.Struct, frozen=True, kw_only=True):
    """What the next lesson is, and by which addresses; ``rehearsal`` on the simulated launcher."""

    choice: Choice
    urls: tuple[str, ...]
    rehearsal: bool


class Before(msgspec.Struct, kw_only=True):
    """What is left of the lesson before: how it ended, its review, launchers that may not stand
    still."""

    told: str = ""
    review: Callable[[Tongue], str] | None = None
    not_stopped: tuple[str, ...] = ()


class Named(msgspec.Struct, frozen=True):
    """A choice by its key."""

    key: Annotated[str, msgspec.Meta(max_length=1000)]


class ToBegin(msgspec.Struct, frozen=True):
    """A choice by its key, and by which launchers."""

    key: Annotated[str, msgspec.Meta(max_length=1000)]
    launchers: Annotated[str, msgspec.Meta(max_length=20)]


class Nothing(msgspec.Struct, frozen=True):
    """A request that says it all by its name."""


class Chooser:
    """What can be chosen, and what was. To be used from the loop that serves the page."""

    def __init__(
        self, places: Places, before: Before, access: Access, done: Callable[[], None]
    ) -> None:
        self.places, self.before, self.access = places, before, access
        self.tongues = Tongues()
        self.chosen: Chosen | None = None
        self.turn = secrets.token_hex(4)  # a page of another turn is loaded anew
        self._done = done
        self._lock = threading.Lock()

    def found(self, key: str) -> Choice | Diagnostic:
        """The choice of this key, as it is on offer now. Raises FeedscriptError."""
        here = next((one for one in choices(self.places) if one.key == key), None)
        return here or NOT_TO_BEGIN.report(
            _("this is not on offer any more"), help=_("choose from the list anew")
        )

    def begin(self, asked: ToBegin) -> Diagnostic | None:
        """Take a choice, or say why not. The first that is taken counts."""
        with self._lock:
            refused = self._begin(asked)
        if refused is None:
            self._done()
        return refused

    def _begin(self, asked: ToBegin) -> Diagnostic | None:
        if self.chosen is not None:
            return NOT_NOW.report(_("another lesson begins"), help=_("wait for its page"))
        if self.before.not_stopped:
            return self._may_not_stand_still()
        choice = self.found(asked.key)
        if isinstance(choice, Diagnostic):
            return choice
        rehearsal = asked.launchers != GIVEN or self.places.rehearses
        urls = self._addresses(choice, rehearsal=rehearsal)
        if isinstance(urls, Diagnostic):
            return urls
        self.chosen = Chosen(choice=choice, urls=urls, rehearsal=rehearsal)
        return None

    def _addresses(self, choice: Choice, *, rehearsal: bool) -> tuple[str, ...] | Diagnostic:
        """One for each launcher of the program; why not, where it cannot begin at them."""
        verdict = judge(choice, self.places)
        if verdict is None:
            return self.places.urls if not rehearsal else self._only_at_its_launchers()
        if verdict.plan is None:
            return NOT_TO_BEGIN.report(said_of(verdict), help=_("choose another program"))
        needed, given = len(verdict.plan.launchers), self.places.urls
        if rehearsal:
            return (SIMULATED,) * needed
        if len(given) == needed:
            return given
        return NOT_TO_BEGIN.report(
            _("launchers in the program: {n}; addresses given: {m}", n=needed, m=len(given)),
            help=_("give --on once for each launcher, in the order of the program"),
        )

    def _only_at_its_launchers(self) -> Diagnostic:
        return NOT_TO_BEGIN.report(
            _("a lesson that was broken off goes on at its launchers only"),
            help=_("start `feedscript court-side` with --on and the launcher's address"),
        )

    def stands_still(self) -> None:
        """A person has looked."""
        self.before.not_stopped = ()

    def _may_not_stand_still(self) -> Diagnostic:
        return NOT_TO_BEGIN.report(
            _("{who} did not confirm that it stopped", who=listed(self.before.not_stopped)),
            help=_("see that it stands still, and say so"),
        )

    def state(self) -> dict[str, Any]:
        """Everything that the page shows. Raises FeedscriptError."""
        return {
            "choices": [
                {"key": one.key, "kind": one.kind, "title": one.title, "about": one.about}
                for one in choices(self.places)
            ],
            "given": list(self.places.urls) if not self.places.rehearses else [],
            "told": self.before.told,
            "review": self.before.review is not None,
            "not_stopped": list(self.before.not_stopped),
        }


def chooser_app(chooser: Chooser, hosts: tuple[str, ...]) -> Starlette:
    """The application between lessons."""
    routes = _Routes(chooser)
    return Starlette(
        routes=[
            Route("/", routes.page),
            Route("/group", routes.page),
            Route("/review", routes.review),
            Route("/pair", routes.pair, methods=["POST"]),
            Route("/stop", routes.stop, methods=["POST"]),
            Route("/choices", routes.choices, methods=["POST"]),
            Route("/judged", routes.judged, methods=["POST"]),
            Route("/begin", routes.begin, methods=["POST"]),
            Route("/stands-still", routes.stands_still, methods=["POST"]),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts)),
            Middleware(GuardedHeaders),
        ],
    )


class _Routes:
    """The handlers, around what they share."""

    def __init__(self, chooser: Chooser) -> None:
        self._chooser = chooser

    def _tongue(self, request: Request) -> Tongue:
        return tongue_of(request, self._chooser.tongues)

    def _no_coach(self, request: Request) -> Response | None:
        device = device_of(request, self._chooser.access)
        if device is not None and device.role is Role.COACH:
            return None
        why = NOT_PAIRED.report(_("a lesson is chosen by a coach's device only"))
        return refused_with(why, 403, self._tongue(request))

    async def page(self, request: Request) -> Response:
        """The list for a coach, the pairing page for a stranger; a viewer waits."""
        device = device_to_show(request, self._chooser.access)
        role = None if device is None else device.role
        name = {None: "pair.html", Role.COACH: "chooser.html", Role.VIEWER: "between.html"}[role]
        html = page_in(name, self._tongue(request), self._chooser.tongues)
        turn = f'<body data-turn="{self._chooser.turn}"'
        return HTMLResponse(html.replace("<body", turn, 1))

    async def pair(self, request: Request) -> Response:
        return await paired_answer(request, self._chooser.access, self._tongue(request))

    async def stop(self, request: Request) -> Response:
        """A page of the lesson before may still ask: nothing runs that could be stopped."""
        why = NOT_NOW.report(_("no lesson runs"))
        return refused_with(why, 409, self._tongue(request))

    async def review(self, request: Request) -> Response:
        """That of the lesson before."""
        refused = self._no_coach(request)
        if refused is not None:
            return refused
        tongue, review = self._tongue(request), self._chooser.before.review
        if review is None:
            return refused_with(NOT_NOW.report(_("there was no lesson yet")), 409, tongue)
        try:
            html = await anyio.to_thread.run_sync(review, tongue)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 500, tongue)
        return HTMLResponse(html, headers={"Content-Security-Policy": REVIEW_POLICY})

    async def choices(self, request: Request) -> Response:
        return await self._asked(request, Nothing, lambda _asked: self._chooser.state())

    async def judged(self, request: Request) -> Response:
        """The check's verdict on a choice, in a sentence."""

        def judged(asked: Named) -> Diagnostic | dict[str, Any]:
            choice = self._chooser.found(asked.key)
            if isinstance(choice, Diagnostic):
                return choice
            verdict = judge(choice, self._chooser.places)
            return {"passed": verdict is None or verdict.ok, "said": said_of(verdict)}

        return await self._asked(request, Named, judged)

    async def begin(self, request: Request) -> Response:
        return await self._asked(request, ToBegin, self._chooser.begin)

    async def stands_still(self, request: Request) -> Response:
        return await self._asked(request, Nothing, lambda _asked: self._chooser.stands_still())

    async def _asked(
        self, request: Request, shape: type[Any], answer: Callable[[Any], Any]
    ) -> Response:
        """A coach's request from our own page, answered in a thread: checking takes seconds."""
        asked = await read_as(request, shape)
        if isinstance(asked, Response):
            return asked
        refused = self._no_coach(request)
        if refused is not None:
            return refused
        tongue = self._tongue(request)
        try:
            found = await anyio.to_thread.run_sync(answer, asked)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 500, tongue)
        if isinstance(found, Diagnostic):
            return refused_with(found, 409, tongue)
        return JSONResponse(msgspec.to_builtins(found or {}, enc_hook=tongue))
