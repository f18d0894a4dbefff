"""The console's web application: its pages, pairing and the socket."""

from __future__ import annotations

import anyio.to_thread
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import HTTPConnection, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.websockets import WebSocket

from feedscript.console.access import NOT_PAIRED, Device, Role
from feedscript.console.messages import CodeRequest, StopRequest
from feedscript.console.page_in import STATIC, page_in, tongue_of
from feedscript.console.pairing import qr_svg
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.console.socket import POLICY_VIOLATION, Console, may_send, serve_socket
from feedscript.console.walls import (
    GuardedHeaders,
    device_of,
    device_to_show,
    paired_answer,
    read_as,
    refused_with,
    same_origin,
)
from feedscript.diagnostics import FeedscriptError
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import NOT_NOW, Act
from feedscript.tongues.text import _
from feedscript.tongues.tongue import Tongue


def make_app(console: Console, hosts: tuple[str, ...], base_url: str) -> Starlette:
    """The application for one lesson.

    ``hosts`` are the names it answers to (any other Host header is refused, which keeps a foreign
    page from rebinding its name to this machine); ``base_url`` is what a pairing QR code opens.
    """
    routes = _Routes(console, base_url)
    return Starlette(
        routes=[
            Route("/", routes.page),
            Route("/group", routes.group),
            Route("/review", routes.review),
            Route("/pair", routes.pair, methods=["POST"]),
            Route("/stop", routes.stop, methods=["POST"]),
            Route("/codes", routes.codes, methods=["POST"]),
            WebSocketRoute("/live", routes.live),
            Mount("/static", StaticFiles(directory=STATIC)),
        ],
        middleware=[
            Middleware(TrustedHostMiddleware, allowed_hosts=list(hosts)),
            Middleware(GuardedHeaders),
        ],
    )


class _Routes:
    """The handlers, around what they share."""

    def __init__(self, console: Console, base_url: str) -> None:
        self._console = console
        self._base_url = base_url

    def _device(self, asks: HTTPConnection) -> Device | None:
        return device_of(asks, self._console.access)

    def _tongue(self, asks: HTTPConnection) -> Tongue:
        return tongue_of(asks, self._console.tongues)

    def _page(self, name: str, request: Request) -> Response:
        return HTMLResponse(page_in(name, self._tongue(request), self._console.tongues))

    async def page(self, request: Request) -> Response:
        """The coach's page; the pairing page for a stranger; the group's screen for a viewer."""
        device = device_to_show(request, self._console.access)
        if device is None:
            return self._page("pair.html", request)
        return self._page("court-side.html" if device.role is Role.COACH else "group.html", request)

    async def group(self, request: Request) -> Response:
        """The view for the group, for any paired device."""
        paired = device_to_show(request, self._console.access) is not None
        return self._page("group.html" if paired else "pair.html", request)

    async def review(self, request: Request) -> Response:
        """The lesson's review while it stands still or is over, for a coach's device alone."""
        tongue = self._tongue(request)
        device = self._device(request)
        if device is None or device.role is not Role.COACH:
            return refused_with(
                NOT_PAIRED.report(_("a review is read by a coach's device only")), 403, tongue
            )
        if self._console.review is None or not self._console.lesson.view.private.review:
            return refused_with(
                NOT_NOW.report(_("there is no review while the lesson runs")), 409, tongue
            )
        try:
            html = await anyio.to_thread.run_sync(self._console.review, tongue)
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 500, tongue)
        return HTMLResponse(html, headers={"Content-Security-Policy": REVIEW_POLICY})

    async def pair(self, request: Request) -> Response:
        return await paired_answer(request, self._console.access, self._tongue(request))

    async def stop(self, request: Request) -> Response:
        """Stop without a socket: for a page whose socket has just gone."""
        tongue = self._tongue(request)
        asked = await read_as(request, StopRequest)
        if isinstance(asked, Response):
            return asked
        device = self._device(request)
        if device is None:
            return refused_with(
                NOT_PAIRED.report(_("stop comes from a paired device only")), 401, tongue
            )
        act = Act.EMERGENCY_STOP if asked.emergency else Act.STOP
        refusal = await self._console.lesson.command(SimpleCommand(act=act), by=device.name)
        return refused_with(refusal, 409, tongue) if refusal else JSONResponse({"stopped": True})

    async def codes(self, request: Request) -> Response:
        """A code for another device, asked by the one in control."""
        tongue = self._tongue(request)
        asked = await read_as(request, CodeRequest)
        if isinstance(asked, Response):
            return asked
        device = self._device(request)
        if device is None:
            return refused_with(
                NOT_PAIRED.report(_("a code is asked for by a paired device only")), 401, tongue
            )
        refusal = may_send(self._console, device, SimpleCommand(act=Act.CONFIRM))
        if refusal is not None:
            return refused_with(refusal, 403, tongue)
        code = self._console.access.new_code(Role.VIEWER if asked.viewer else Role.COACH)
        return JSONResponse({"code": code, "qr": qr_svg(f"{self._base_url}/#{code}")})

    async def live(self, socket: WebSocket) -> None:
        """The socket of a paired page of our own origin; any other is refused before it opens."""
        device = self._device(socket)
        if device is None or not same_origin(socket.headers):
            await socket.close(POLICY_VIOLATION)
            return
        await socket.accept()
        await serve_socket(socket, self._console, device, self._tongue(socket))
