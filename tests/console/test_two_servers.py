"""Two pages of one machine, in one browser: a host's cookies go to all its ports (RFC 6265, 8.5),
and what a device is at one of them it is not at the other."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from contextlib import AsyncExitStack, asynccontextmanager, contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from urllib.parse import urlsplit

import anyio
import httpx
import pytest
import websockets
from playwright.async_api import Browser, BrowserContext, Page, expect

from feedscript.console import walls
from feedscript.console.access import COOKIE, Role
from feedscript.console.serve import Served, serve
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act
from tests.console.lesson import RememberingLesson

pytestmark = pytest.mark.anyio

STOPS = SimpleCommand(act=Act.STOP)
#: What a stranger's page may try, in a browser that is paired.
TRIES = """async (other) => {
  const found = {};
  for (const [way, asked] of Object.entries({
    stop: ["/stop", { method: "POST", body: "{}" }],
    code: ["/codes", { method: "POST", body: "{}" }],
    page: ["/", {}],
    review: ["/review", {}],
  })) {
    try {
      const answer = await fetch(other + asked[0], { credentials: "include", ...asked[1] });
      found[way] = answer.status;
    } catch {
      found[way] = "not told";
    }
  }
  found.live = await new Promise((told) => {
    const socket = new WebSocket(other.replace("http", "ws") + "/live");
    socket.onmessage = () => told("heard");
    socket.onerror = socket.onclose = () => told("closed");
  });
  return found;
}"""


@asynccontextmanager
async def two() -> AsyncIterator[tuple[Served, RememberingLesson, Served, RememberingLesson]]:
    lessons = (RememberingLesson(), RememberingLesson())
    async with AsyncExitStack() as stack:
        one, other = [await stack.enter_async_context(serve(lesson)) for lesson in lessons]
        yield one, lessons[0], other, lessons[1]


async def paired_with_both(context: BrowserContext, one: Served, other: Served) -> None:
    for served in (one, other):
        page = await context.new_page()
        await page.goto(served.pairing_link(Role.COACH))
        await expect(page.locator("#stop")).to_be_visible()


async def test_a_device_that_pairs_at_a_second_page_still_stops_at_the_first(
    browser: Browser,
) -> None:
    async with two() as (one, lesson, other, second):
        context = await browser.new_context()
        await paired_with_both(context, one, other)
        names = {cookie["name"] for cookie in await context.cookies()}
        assert names == {f"{COOKIE}_{urlsplit(served.url).port}" for served in (one, other)}
        page = context.pages[0]
        await page.reload()  # as after a phone's sleep
        await page.click("#stop")
        with anyio.fail_after(20):
            while not lesson.told:
                await anyio.sleep(0.05)
        assert lesson.told[0][0] == STOPS
        assert second.told == []


async def test_under_one_name_for_all_ports_the_first_page_would_know_the_device_no_more(
    browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(walls, "cookie_name", lambda _asks, stem=COOKIE: stem)
    async with two() as (one, _, other, _):
        context = await browser.new_context()
        await paired_with_both(context, one, other)
        await context.pages[0].reload()
        await expect(context.pages[0].locator("form#pair")).to_be_visible()


@contextmanager
def stranger() -> Iterator[tuple[str, list[str]]]:
    """A page of somebody else at another port of this machine, with no wall of its own; and the
    cookies that come to it."""
    sent: list[str] = []

    class Answers(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            sent.append(self.headers.get("Cookie", ""))
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>Somebody else</title>")

        def log_message(self, *_: object) -> None:
            return

    server = ThreadingHTTPServer(("127.0.0.1", 0), Answers)
    Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/", sent
    finally:
        server.shutdown()


async def test_a_page_at_another_port_spends_and_reads_nothing(browser: Browser) -> None:
    lesson = RememberingLesson()
    async with serve(lesson) as served:
        context = await browser.new_context()
        page = await context.new_page()
        await page.goto(served.pairing_link(Role.COACH))
        await expect(page.locator("#stop")).to_be_visible()
        with stranger() as (elsewhere, _sent):
            await page.goto(elsewhere)
            told = await page.evaluate(TRIES, served.url)
        assert told == dict.fromkeys(("stop", "code", "page", "review"), "not told") | {
            "live": "closed"
        }
        assert lesson.told == []
        (cookie,) = await context.cookies()
        assert (cookie["sameSite"], cookie["httpOnly"]) == ("Strict", True)


async def stolen_from(page: Page) -> str:
    """The cookies of the browser, as a page at another port of its host is sent them."""
    with stranger() as (elsewhere, sent):
        tab = await page.context.new_page()
        await tab.goto(elsewhere)
        assert await tab.evaluate("Object.keys(localStorage)") == []
        await tab.close()
    return sent[0]


#: What somebody may try who has nothing but the cookie, at the page of a lesson.
POSTS, GETS, SOCKETS = ("/stop", "/codes"), ("/review", "/review?page="), ("/live", "/live?page=x")


async def tried_with(cookie: str, url: str) -> set[int]:
    """What a program is answered that says of itself that it is a page of this address."""
    headers = {"Cookie": cookie, "Origin": url}
    async with httpx.AsyncClient(base_url=url, headers=headers) as client:
        found = {(await client.post(path, json={})).status_code for path in POSTS}
        found |= {(await client.get(path)).status_code for path in GETS}
    for path in SOCKETS:
        with pytest.raises(websockets.InvalidStatus) as refused:
            await websockets.connect(url.replace("http", "ws") + path, additional_headers=headers)
        found.add(refused.value.response.status_code)
    return found


async def test_the_cookie_alone_is_worth_nothing_to_whoever_else_is_sent_it(
    browser: Browser,
) -> None:
    lesson = RememberingLesson()
    async with serve(lesson) as served:
        context = await browser.new_context()
        page = await context.new_page()
        await page.goto(served.pairing_link(Role.COACH))
        await expect(page.locator("#stop")).to_be_visible()
        cookie = await stolen_from(page)
        assert served.access.device(cookie.partition("=")[2]) is not None
        assert await tried_with(cookie, served.url) == {401, 403}
        assert lesson.told == []
        for again in (page, await context.new_page()):  # loaded anew, and in a second tab
            await again.goto(served.url)
            await expect(again.locator("#phase")).not_to_have_text("…")
            await again.click("#stop")
        with anyio.fail_after(20):
            while len(lesson.told) < 2:
                await anyio.sleep(0.05)


async def test_a_device_that_has_lost_what_its_pages_know_is_asked_for_a_code(
    browser: Browser,
) -> None:
    async with serve(RememberingLesson()) as served:
        context = await browser.new_context()
        page = await context.new_page()
        await page.goto(served.pairing_link(Role.COACH))
        await expect(page.locator("#stop")).to_be_visible()
        await page.evaluate("localStorage.clear()")
        await page.reload()
        await page.fill("#code", served.access.new_code(Role.COACH))
        await page.click("form#pair button")
        await expect(page.locator("#stop")).to_be_visible()
        await expect(page.locator("#phase")).not_to_have_text("…")


async def test_a_browser_that_keeps_nothing_for_pages_is_told_so(browser: Browser) -> None:
    async with serve(RememberingLesson()) as served:
        page = await (await browser.new_context()).new_page()
        denied = 'throw new DOMException("denied", "SecurityError")'
        await page.add_init_script(
            f"Object.defineProperty(window, 'localStorage', {{ get() {{ {denied}; }} }});"
        )
        await page.goto(served.pairing_link(Role.COACH))
        await expect(page.locator("#told")).to_contain_text("keeps nothing for pages")


async def test_one_servers_token_is_nobodys_at_another() -> None:
    """A browser sends it to both: a server of our own knows nobody by another's."""
    async with two() as (one, _, other, _), httpx.AsyncClient() as browser:
        paired = await browser.post(
            f"{one.url}/pair",
            json={"code": one.access.new_code(Role.COACH), "name": "phone"},
            headers={"Origin": one.url},
        )
        (token,) = paired.cookies.values()
        port = urlsplit(other.url).port
        sent = {"Origin": other.url, "Cookie": f"{COOKIE}_{port}={token}; {COOKIE}={token}"}
        answer = await browser.post(f"{other.url}/stop", json={}, headers=sent)
        assert answer.status_code == 401
