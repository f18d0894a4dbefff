"""The club's door, from a court's side: what is asked of it over https, and what it may answer."""

from __future__ import annotations

import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import TypeVar

import httpx
import msgspec

from feedscript.club.batch import Batch, Held
from feedscript.club.handed import HISTORY, PROGRAMS, Handed, HandedPrograms, Have
from feedscript.club.link.membership import CLUB_ADDRESS, Membership
from feedscript.club.messages import EVENTS, HOST_LIBRARY, JOIN, Fetched, JoinAnswer, JoinRequest
from feedscript.club.tombstones import FORGOTTEN, Obeyed, Tombstones
from feedscript.diagnostics import FeedscriptError, Page, Severity
from feedscript.tongues.text import _
from feedscript.visible import visible

NOT_HEARD = Page(
    slug="club-not-heard",
    title="The club is not heard",
    severity=Severity.WARNING,
    why=(
        "A court's computer sends its club what happens as it happens. Where the club cannot be "
        "reached, or answers strangely, nothing of the lesson changes: it waits in the journal, "
        "and is sent when the club is heard again, in its order and once. Meanwhile nobody at the "
        "club sees this court, and nobody there can stop it."
    ),
)
NOT_TAKEN = Page(
    slug="club-not-taken",
    title="The club does not take what this court sends",
    why=(
        "The club refused this court's key, or something that it sent: it has something else under "
        "a number that it holds already (a journal that was put back from a copy and went on from "
        "there), or cannot read it. It stays in the journal; the other lessons are sent."
    ),
)

S = TypeVar("S", bound=msgspec.Struct)

#: How long the club is waited for, s. Design value.
PATIENCE_S = 10.0
#: A connection on which nothing was asked for so long is asked on no more, s: the server keeps it
#: twice as long for a court that it knows. Design value.
IDLE_S = 30.0
#: A connection that was kept may be closed at its other end just as it is used again: by a server
#: that starts anew, or by one in between that has less patience than the club's.
_BROKE = (httpx.RemoteProtocolError, httpx.ReadError, httpx.WriteError)


class NotHeardError(FeedscriptError):
    """The club cannot be reached, or is in no state to answer: try again later."""

    def __init__(self, why: str) -> None:
        super().__init__(
            NOT_HEARD.report(
                _("the club is not heard: {why}", why=why),
                help=_("the lesson needs no club; what happens is kept and sent later"),
            )
        )


class NotTakenError(FeedscriptError):
    """The club answers, and does not take it. ``status`` is the answer's."""

    def __init__(self, status: int, says: str, help: str = "") -> None:
        super().__init__(
            NOT_TAKEN.report(
                _("the club does not take it: {says}", says=says),
                help=help or _("ask whoever looks after the club's server"),
            )
        )
        self.status = status


class _Said(msgspec.Struct, frozen=True):
    """What of a refusal is read."""

    message: str = ""
    help: str = ""


class _Refusal(msgspec.Struct):
    diagnostic: _Said = _Said()


@asynccontextmanager
async def at_the_door(
    url: str,
    certificate: str = "",
    key: str = "",
    transport: httpx.AsyncBaseTransport | None = None,
) -> AsyncIterator[httpx.AsyncClient]:
    """A connection that is kept open. Raises FeedscriptError for a certificate that is none."""
    headers = {"Authorization": f"Bearer {key}"} if key else {}
    async with httpx.AsyncClient(
        base_url=url,
        headers=headers,
        verify=believed(certificate),
        timeout=PATIENCE_S,
        limits=httpx.Limits(keepalive_expiry=IDLE_S),
        trust_env=False,
        transport=transport,
    ) as client:
        yield client


def believed(certificate: str) -> ssl.SSLContext:
    """Whose certificates are believed: those of the system, and the club's own if one was named
    (PEM). Raises FeedscriptError for one that is none."""
    context = ssl.create_default_context()
    if certificate:
        try:
            context.load_verify_locations(cadata=certificate)
        except (ssl.SSLError, ValueError) as trouble:
            raise FeedscriptError(
                CLUB_ADDRESS.report(
                    f"the certificate that was named for the club is none: {trouble}",
                    help="name the server's certificate as a PEM file",
                )
            ) from trouble
    return context


class Door:
    """What a court that has joined asks. Raises NotHeardError and NotTakenError."""

    def __init__(self, client: httpx.AsyncClient) -> None:
        self._client = client

    async def held(self) -> dict[str, int]:
        """The highest number that the club has of each of our lessons."""
        return _read(await _asked(self._client, "GET", EVENTS), Held).held

    async def send(self, batch: Batch) -> dict[str, int]:
        """Hand a batch in; the highest number that the club then has of each of its lessons."""
        body = msgspec.json.encode(batch)
        return _read(await _asked(self._client, "POST", EVENTS, body), Held).held

    async def tombstones(self) -> Tombstones:
        """Whom this court has to forget and has not yet."""
        return _read(await _asked(self._client, "GET", FORGOTTEN), Tombstones)

    async def obeyed(self, number: int) -> None:
        """Say that everybody up to this number is forgotten here."""
        await _asked(self._client, "POST", FORGOTTEN, msgspec.json.encode(Obeyed(number)))

    async def history(self, have: Have) -> Handed:
        """Lessons of other courts with this court's players, that it does not have."""
        body = msgspec.json.encode(have)
        return _read(await _asked(self._client, "POST", HISTORY, body), Handed)

    async def programs(self) -> HandedPrograms:
        """The programs that coaches have handed to this court."""
        return _read(await _asked(self._client, "GET", PROGRAMS), HandedPrograms)

    async def library(self) -> Fetched:
        """The record of the club's library, and its public key."""
        return _read(await _asked(self._client, "GET", HOST_LIBRARY), Fetched)

    async def library_text(self, sha256: str) -> bytes:
        """One of its texts, as it came."""
        return (await _asked(self._client, "GET", f"{HOST_LIBRARY}/{sha256}")).content


async def join(
    url: str, code: str, name: str, certificate: str = "", client: httpx.AsyncClient | None = None
) -> Membership:
    """Spend the code; the membership that it gave. Raises FeedscriptError."""
    body = msgspec.json.encode(JoinRequest(code=code, name=name))
    if client is not None:
        answer = await _asked(client, "POST", JOIN, body)
    else:
        async with at_the_door(url, certificate) as opened:
            answer = await _asked(opened, "POST", JOIN, body)
    told = _read(answer, JoinAnswer)
    return Membership(url=url, host=told.host, key=told.key, name=name, certificate=certificate)


async def _asked(
    client: httpx.AsyncClient, method: str, path: str, body: bytes | None = None
) -> httpx.Response:
    try:
        answer = await _answered(client, method, path, body)
    except (httpx.HTTPError, httpx.InvalidURL, OSError) as trouble:
        raise NotHeardError(_words(trouble)) from trouble
    if answer.is_success:
        return answer
    said = _Said()
    with suppress(msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        said = msgspec.json.decode(answer.content, type=_Refusal).diagnostic
    says = visible(said.message[:300]) or f"{answer.status_code} {answer.reason_phrase}"
    if answer.status_code in (401, 403, 404, 409, 413, 422):
        raise NotTakenError(answer.status_code, says, visible(said.help[:300]))
    raise NotHeardError(says)


async def _answered(
    client: httpx.AsyncClient, method: str, path: str, body: bytes | None
) -> httpx.Response:
    headers = {"Content-Type": "application/json"} if body is not None else {}
    try:
        return await client.request(method, path, content=body, headers=headers)
    except _BROKE:
        if path == JOIN:  # a code works once
            raise
        # Everything else may be asked twice (RFC 9110, 9.2.2, lets such requests be repeated).
        return await client.request(method, path, content=body, headers=headers)


def _words(trouble: Exception) -> str:
    return str(trouble) or type(trouble).__name__


def _read(answer: httpx.Response, shape: type[S]) -> S:
    try:
        return msgspec.json.decode(answer.content, type=shape)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as trouble:
        raise NotHeardError(_("what answers there is no club's server")) from trouble
