"""One coach's desk, from the server's side: its folder, its process, and what is sent there."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager, suppress
from pathlib import Path
from urllib.parse import quote

import anyio
import anyio.to_thread
import httpx
import msgspec
from websockets.asyncio.client import ClientConnection, connect

from feedscript import club_library, own_library
from feedscript.club.apart import surroundings
from feedscript.club.desks.folder import CLUB_LIBRARY, OWN_LIBRARY, Copied
from feedscript.club.desks.process import DeskBegun
from feedscript.club.refusals import DESK_NOT_HEARD
from feedscript.console.page_in import COOKIE as LANGUAGE_COOKIE
from feedscript.console.walls import PAGE_KEY
from feedscript.desk.app import COOKIE
from feedscript.diagnostics import FeedscriptError
from feedscript.tongues.tongue import ENGLISH

#: How long a desk may take to begin, and to answer anything: a first lesson takes a minute on a
#: busy machine. One that does not is sent away. Design values.
BEGINS_WITHIN_S, ANSWERS_WITHIN_S = 60.0, 180.0
#: So long it is given to end by itself.
ENDS_WITHIN_S = 5.0
#: So much one coach may ask at once; more waits. Design value.
AT_ONCE = 4


class CoachDesk:
    """From the event loop alone. The process is begun when something is first asked of it."""

    def __init__(self) -> None:
        self._home = tempfile.TemporaryDirectory(
            prefix="feedscript-desk-", ignore_cleanup_errors=True
        )
        self.root = Path(self._home.name).resolve()
        self.copied = Copied(self.root)
        self.in_use = 0
        self.tabs = 0
        self._beginning = anyio.Lock()
        self._at_once = anyio.CapacityLimiter(AT_ONCE)
        self._process: subprocess.Popen[bytes] | None = None
        self._client: httpx.AsyncClient | None = None
        self._address = self._cookie = self._page = ""

    @contextmanager
    def used(self) -> Iterator[None]:
        """It is not sent away meanwhile for being idle."""
        self.in_use += 1
        try:
            yield
        finally:
            self.in_use -= 1

    async def begin(self) -> None:
        """Begin the process before anything is asked of it; whoever asks is told what fails."""
        with self.used(), suppress(FeedscriptError):
            await self._begun()

    async def ask(
        self, method: str, place: str, body: bytes = b"", language: str = ENGLISH
    ) -> httpx.Response:
        """Its answer to a request, in a language. Raises FeedscriptError where it does not
        answer."""
        with self.used():
            async with self._at_once:
                client = await self._begun()
                try:
                    return await client.request(
                        method, place, content=body, headers=self._headers(language)
                    )
                except (httpx.HTTPError, OSError) as trouble:
                    if self._client is client:  # else another is begun already
                        await self.end()
                    raise _not_heard(trouble) from trouble

    @asynccontextmanager
    async def words(self, name: str, language: str) -> AsyncIterator[ClientConnection]:
        """The socket of one of its programs. Raises FeedscriptError where it does not open."""
        with self.used():
            await self._begun()
            place = f"ws://{self._address}/words/{quote(name, safe='/')}"
            headers = self._headers(language)
            origin = headers.pop("Origin")
            try:
                socket = await connect(
                    place,
                    origin=origin,  # type: ignore[arg-type]
                    additional_headers=headers,
                    max_size=None,
                    compression=None,
                    proxy=None,
                )
            except Exception as trouble:
                raise _not_heard(trouble) from trouble
            async with socket:
                yield socket

    def _headers(self, language: str) -> dict[str, str]:
        """Those of a page of its own."""
        return {
            "Origin": f"http://{self._address}",
            "Content-Type": "application/json",
            PAGE_KEY: self._page,
            "Cookie": f"{self._cookie}; {LANGUAGE_COOKIE}={language}",
        }

    async def _begun(self) -> httpx.AsyncClient:
        async with self._beginning:
            if self._process is not None and self._process.poll() is not None:
                await self.end()  # it has ended by itself: too much was asked of it
            if self._client is None:
                self._client = await self._begin()
            return self._client

    async def _begin(self) -> httpx.AsyncClient:
        try:
            self._process = process = _started(self.root)
        except OSError as trouble:
            raise _not_heard(trouble) from trouble
        assert process.stdout is not None
        line = b""
        with anyio.move_on_after(BEGINS_WITHIN_S):
            line = await anyio.to_thread.run_sync(process.stdout.readline, abandon_on_cancel=True)
        try:
            return await self._let_in(msgspec.json.decode(line, type=DeskBegun))
        except (msgspec.DecodeError, httpx.HTTPError, KeyError) as trouble:
            await self.end()
            raise _not_heard(trouble) from trouble

    async def _let_in(self, told: DeskBegun) -> httpx.AsyncClient:
        """By its one-time link, as a browser is. Raises httpx.HTTPError and KeyError."""
        self._address, address = told.address, f"http://{told.address}"
        client = httpx.AsyncClient(base_url=address, timeout=ANSWERS_WITHIN_S, trust_env=False)
        asked = {"code": told.code, "name": "the club's server"}
        paired = await client.post("/pair", json=asked, headers={"Origin": address})
        name, token = next(one for one in paired.cookies.items() if one[0].startswith(COOKIE))
        self._cookie, self._page = f"{name}={token}", paired.json()["page"]
        client.cookies.clear()
        return client

    async def end(self) -> None:
        """Send the process away; what is asked next begins another."""
        client, process = self._client, self._process
        self._client = self._process = None
        with anyio.CancelScope(shield=True):
            if client is not None:
                await client.aclose()
            if process is not None:
                await anyio.to_thread.run_sync(_end, process)

    async def clear(self) -> None:
        """The coach has left: nothing of it stays."""
        await self.end()
        with anyio.CancelScope(shield=True):
            await anyio.to_thread.run_sync(self._home.cleanup)


def _started(root: Path) -> subprocess.Popen[bytes]:
    own = {
        "HOME": str(root),
        own_library.VARIABLE: str(root / OWN_LIBRARY),
        club_library.VARIABLE: str(root / CLUB_LIBRARY),
    }
    return subprocess.Popen(
        # Without the folder it is started in among Python's own.
        [sys.executable, "-P", "-m", "feedscript.club.desks.process", str(root)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        cwd=root,
        env=surroundings(**own),
    )


def _end(process: subprocess.Popen[bytes]) -> None:
    assert process.stdin is not None
    assert process.stdout is not None
    with suppress(OSError):
        process.stdin.close()
    process.terminate()
    try:
        process.wait(ENDS_WITHIN_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    process.stdout.close()  # now nobody waits for a line of it any more


def _not_heard(trouble: Exception) -> FeedscriptError:
    return FeedscriptError(
        DESK_NOT_HEARD.report(
            f"your desk on the club's server does not answer: {type(trouble).__name__}",
            help="what was saved is kept: load the page again",
        )
    )
