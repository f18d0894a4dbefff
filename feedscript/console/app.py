"""The console's web application: pages, pairing, the socket, and the walls around them."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar
from urllib.parse import urlsplit

import anyio.to_thread
import msgspec
from starlette.applications import Starlette
from starlette.datastructures import Headers, MutableHeaders
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket

from feedscript.console.access import COOKIE, NOT_PAIRED, Device, Role
from feedscript.console.messages import MOST_BYTES, CodeRequest, PairRequest, StopRequest
from feedscript.console.pairing import qr_svg
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.console.socket import POLICY_VIOLATION, Console, may_send, serve_socket
from feedscript.diagnostics import Diagnostic, FeedscriptError, as_json
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import NOT_NOW, Act

STATIC = Path(__file__).parent / "static"

#: Nothing from elsewhere, nothing inline, nobody's frame. OWASP Secure Headers Project lists each.
SECURITY_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}

S = TypeVar("S", bound=msgspec.Struct)


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
            Middleware(_Headers),
        ],
    )


class _Headers:
    """Puts the security headers on every answer."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in SECURITY_HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, send_with_headers)


def same_origin(headers: Headers) -> bool:
    """Whether the page that asks came from this console. No Origin at all is no browser's page."""
    origin = headers.get("origin")
    return origin is not None and urlsplit(origin).netloc == headers.get("host")


def _refusal(diagnostic: Diagnostic, status: int) -> JSONResponse:
    return JSONResponse({"refused": as_json(diagnostic)}, status_code=status)


async def _body(request: Request) -> bytes | None:
    """The body; None when it is longer than any honest one."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BYTES:
            return None
    return body


async def _read(request: Request, shape: type[S]) -> S | Response:
    """The request's JSON in the shape it must have, or the answer that refuses it."""
    if not same_origin(request.headers):
        return JSONResponse({"error": "foreign origin"}, status_code=403)
    body = await _body(request)
    if body is None:
        return JSONResponse({"error": "too long"}, status_code=413)
    try:
        return msgspec.json.decode(body or b"{}", type=shape)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return JSONResponse({"error": "not of the expected shape"}, status_code=400)


class _Routes:
    """The handlers, around what they share."""

    def __init__(self, console: Console, base_url: str) -> None:
        self._console = console
        self._base_url = base_url

    def _device(self, cookies: dict[str, str]) -> Device | None:
        return self._console.access.device(cookies.get(COOKIE))

    async def page(self, request: Request) -> Response:
        """The coach's page; the pairing page for a stranger; the group's screen for a viewer."""
        device = self._device(request.cookies)
        if device is None:
            return FileResponse(STATIC / "pair.html")
        return FileResponse(
            STATIC / ("court-side.html" if device.role is Role.COACH else "group.html")
        )

    async def group(self, request: Request) -> Response:
        """The view for the group, for any paired device."""
        paired = self._device(request.cookies) is not None
        return FileResponse(STATIC / ("group.html" if paired else "pair.html"))

    async def review(self, request: Request) -> Response:
        """The lesson's review while it stands still or is over, for a coach's device alone."""
        device = self._device(request.cookies)
        if device is None or device.role is not Role.COACH:
            return _refusal(NOT_PAIRED.report("a review is read by a coach's device only"), 403)
        if self._console.review is None or not self._console.lesson.view.private.review:
            return _refusal(NOT_NOW.report("there is no review while the lesson runs"), 409)
        try:
            html = await anyio.to_thread.run_sync(self._console.review)
        except FeedscriptError as failed:
            return _refusal(failed.diagnostic, 500)
        return HTMLResponse(html, headers={"Content-Security-Policy": REVIEW_POLICY})

    async def pair(self, request: Request) -> Response:
        asked = await _read(request, PairRequest)
        if isinstance(asked, Response):
            return asked
        done = self._console.access.pair(asked.code, asked.name)
        if isinstance(done, Diagnostic):
            return _refusal(done, 403)
        token, device = done
        answer = JSONResponse({"role": device.role, "name": device.name})
        answer.set_cookie(
            COOKIE,
            token,
            httponly=True,
            samesite="strict",
            secure=request.url.scheme == "https",
            max_age=12 * 3600,
        )
        return answer

    async def stop(self, request: Request) -> Response:
        """Stop without a socket: for a page whose socket has just gone."""
        asked = await _read(request, StopRequest)
        if isinstance(asked, Response):
            return asked
        device = self._device(request.cookies)
        if device is None:
            return _refusal(NOT_PAIRED.report("stop comes from a paired device only"), 401)
        act = Act.EMERGENCY_STOP if asked.emergency else Act.STOP
        refusal = await self._console.lesson.command(SimpleCommand(act=act), by=device.name)
        return _refusal(refusal, 409) if refusal else JSONResponse({"stopped": True})

    async def codes(self, request: Request) -> Response:
        """A code for another device, asked by the one in control."""
        asked = await _read(request, CodeRequest)
        if isinstance(asked, Response):
            return asked
        device = self._device(request.cookies)
        if device is None:
            return _refusal(NOT_PAIRED.report("a code is asked for by a paired device only"), 401)
        refusal = may_send(self._console, device, SimpleCommand(act=Act.CONFIRM))
        if refusal is not None:
            return _refusal(refusal, 403)
        code = self._console.access.new_code(Role.VIEWER if asked.viewer else Role.COACH)
        return JSONResponse({"code": code, "qr": qr_svg(f"{self._base_url}/#{code}")})

    async def live(self, socket: WebSocket) -> None:
        """The socket of a paired page of our own origin; any other is refused before it opens."""
        device = self._device(socket.cookies)
        if device is None or not same_origin(socket.headers):
            await socket.close(POLICY_VIOLATION)
            return
        await socket.accept()
        await serve_socket(socket, self._console, device)
