"""The walls around a page of this machine: its headers, its origin, and what it may be sent."""

from __future__ import annotations

from typing import TypeVar
from urllib.parse import urlsplit

import msgspec
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from feedscript.console.access import COOKIE, Access, Device
from feedscript.console.messages import MOST_BYTES, PairRequest
from feedscript.diagnostics import Diagnostic, as_json
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

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

#: The header in which a page says what the pages of its address alone know.
PAGE_KEY = "feedscript-page"

S = TypeVar("S", bound=msgspec.Struct)


class GuardedHeaders:
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


def cookie_name(asks: HTTPConnection, stem: str = COOKIE) -> str:
    """What the cookie that holds a device's token is called at the port that is asked.

    A browser sends a host's cookies to all its ports (RFC 6265, 8.5): under one name a device that
    is paired at one page of this machine would lose what it has of another. Over https the name is
    one that no other host and no page without it can set (RFC 6265bis, 4.1.3.2).
    """
    server = asks.scope.get("server") or ("", None)
    name = stem if server[1] is None else f"{stem}_{server[1]}"
    return f"__Host-{name}" if asks.url.scheme in ("https", "wss") else name


def token_of(asks: HTTPConnection, stem: str = COOKIE) -> str | None:
    """The token that a browser sends along; None for a stranger."""
    return asks.cookies.get(cookie_name(asks, stem))


def device_of(asks: HTTPConnection, access: Access, stem: str = COOKIE) -> Device | None:
    """The device whose page asks; None for a stranger, and for who was sent its cookie alone."""
    return access.device_of_page(token_of(asks, stem), _page_key(asks) or "")


def device_to_show(asks: HTTPConnection, access: Access, stem: str = COOKIE) -> Device | None:
    """The device for which a page is to be shown, without a word of the lesson in it. A browser
    that opens an address sends the cookie alone; a page that asks again says what it knows."""
    if _page_key(asks) is None:
        return access.device(token_of(asks, stem))
    return device_of(asks, access, stem)


def _page_key(asks: HTTPConnection) -> str | None:
    """What the page that asks knows: in a header, or in the address where it can give none."""
    return asks.headers.get(PAGE_KEY, asks.query_params.get("page"))


def refused_with(diagnostic: Diagnostic, status: int, tongue: Tongue = IN_ENGLISH) -> JSONResponse:
    """The answer that refuses, in a language."""
    refused = msgspec.to_builtins(as_json(diagnostic), enc_hook=tongue)
    return JSONResponse({"refused": refused}, status_code=status)


async def body_of(request: Request, most_bytes: int = MOST_BYTES) -> bytes | None:
    """The body; None when it is longer than any honest one."""
    body = b""
    async for chunk in request.stream():
        body += chunk
        if len(body) > most_bytes:
            return None
    return body


async def read_as(request: Request, shape: type[S], most_bytes: int = MOST_BYTES) -> S | Response:
    """The request's JSON in the shape it must have, or the answer that refuses it."""
    if not same_origin(request.headers):
        return JSONResponse({"error": "foreign origin"}, status_code=403)
    body = await body_of(request, most_bytes)
    if body is None:
        return JSONResponse({"error": "too long"}, status_code=413)
    try:
        return msgspec.json.decode(body or b"{}", type=shape)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return JSONResponse({"error": "not of the expected shape"}, status_code=400)


async def paired_answer(
    request: Request, access: Access, tongue: Tongue = IN_ENGLISH, stem: str = COOKIE
) -> Response:
    """The answer to a device that asks to be paired: its token as a cookie, or why not."""
    asked = await read_as(request, PairRequest)
    if isinstance(asked, Response):
        return asked
    done = access.pair(asked.code, asked.name)
    if isinstance(done, Diagnostic):
        return refused_with(done, 403, tongue)
    device = done.device
    answer = JSONResponse({"role": device.role, "name": device.name, "page": done.page})
    answer.set_cookie(
        cookie_name(request, stem),
        done.token,
        httponly=True,
        samesite="strict",
        secure=request.url.scheme == "https",
        max_age=12 * 3600,
    )
    return answer
