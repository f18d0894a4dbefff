"""The pages in a browser: three people's day, on a phone and on a screen, by day and night."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from html.parser import HTMLParser
from pathlib import Path
from typing import TypeAlias

import anyio
import pytest
import uvicorn
from playwright.async_api import Browser, Page, expect

from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.entering import let_in_browser
from feedscript.club.people.pages.routes import people_routes
from feedscript.club.people.signing_in import COOKIE
from feedscript.club.server.app import make_app
from feedscript.club.server.club import Club
from feedscript.club.store.people import audit
from feedscript.club.store.people.audit import Act
from feedscript.club.store.store import Store
from feedscript.console.listening import listen
from tests.club.people.stage import PASSWORD, Stage
from tests.console.accessible import violations
from tests.console.browser import PHONE, SCREEN, SMALL, TOO_SMALL, TOO_WIDE, chromium, new_page
from tests.switched_off import Cut
from tests.tongues import pseudo
from tests.tongues.test_nothing_outside import WORD, left_over


@pytest.fixture
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture
def stage(store: Store) -> Stage:
    return Stage(store)


@asynccontextmanager
async def served(stage: Stage) -> AsyncIterator[str]:
    """The pages in this process, at an address of this machine."""
    listening = listen(on_court_network=False, port=0)
    club = Club(stage.store, stage.desk.who)
    app = make_app(club, ["127.0.0.1"], people_routes(stage.desk))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(server.serve, [listening.socket])
        with anyio.fail_after(30):
            while not server.started:
                await anyio.sleep(0.01)
        yield f"http://{listening.reached}"
        server.should_exit = True


async def sound(page: Page, words: str) -> None:
    """Nothing is cut off or too small for a thumb, and axe has nothing to say."""
    await expect(page.locator("h1")).to_have_text(words)
    assert await page.evaluate(TOO_WIDE) == []
    await page.wait_for_load_state()  # the sheet of styles may come behind the words
    assert await page.evaluate(TOO_SMALL) == []
    assert await violations(page) == {}


async def signed_in(page: Page, url: str, name: str) -> None:
    """By the keyboard alone."""
    await page.goto(url)
    await page.locator("#login").focus()
    await page.keyboard.type(f"{name}@club.example")
    await page.keyboard.press("Tab")
    await page.keyboard.type(PASSWORD)
    await page.keyboard.press("Enter")
    await expect(page.locator("header .who")).to_have_text(name)


async def coachs_day(browser: Browser, url: str) -> str:
    """A coach signs in on a phone and makes a link for a family."""
    page = await new_page(browser, PHONE, [])
    await page.goto(url)
    await sound(page, "Sign in to the club")
    await signed_in(page, url, "kim")
    await sound(page, "Groups")
    await page.get_by_role("link", name="Ada").click()
    await sound(page, "Ada")
    await page.get_by_role("button", name="Make the link").click()
    link = await page.locator("#link").input_value()
    await sound(page, "Ada")
    await page.get_by_role("link", name="Read the record").click()
    await expect(page.locator("h1")).to_have_text("Ada: all lessons")
    return link


async def familys_day(browser: Browser, link: str) -> None:
    page = await new_page(browser, PHONE, [])
    await page.goto(link)
    await expect(page.locator("h1")).to_have_text("Ada")
    for scheme in ("light", "dark"):
        await page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        assert await violations(page) == {}
    ground = await page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(20, 24, 28)"
    assert await page.locator("form, button, script").count() == 0


async def head_coachs_day(browser: Browser, url: str) -> None:
    """On a screen, by night: somebody is invited, a player is forgotten."""
    page = await new_page(browser, SCREEN, [])
    await page.emulate_media(color_scheme="dark")
    await signed_in(page, url, "head")
    await page.get_by_role("link", name="People").click()
    await page.get_by_label("Name", exact=True).fill("Max")
    await page.get_by_label("Sign-in name").fill("max@club.example")
    await page.get_by_role("button", name="Invite").click()
    assert "/invitations/" in await page.locator("#link").input_value()
    await sound(page, "People")
    await page.get_by_role("link", name="Who read what").click()
    await expect(page.locator(".log")).to_contain_text("kim read the record of Ada")
    await page.get_by_role("link", name="What is kept").click()
    await page.get_by_label("Name of the player").fill("Ada")
    await page.get_by_role("button", name="Forget this player").click()
    await expect(page.locator(".done")).to_contain_text("Forgotten here")
    await sound(page, "What is kept")


@pytest.mark.anyio
async def test_the_day_of_coach_family_and_head_coach(stage: Stage) -> None:
    async with chromium() as browser, served(stage) as url:
        stage.now_utc_s += 1.0
        link = await coachs_day(browser, url)
        await familys_day(browser, link)
        await head_coachs_day(browser, url)


#: Every page of the head coach's, who sees all of them.
PLACES = ("/", "/groups", "/groups/new", "/people", "/keeping", "/audit", "/me")


@pytest.mark.long
@pytest.mark.anyio
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [PHONE, SMALL, {"width": 1280, "height": 800}])
async def test_every_page_is_sound(stage: Stage, size: dict[str, int], scheme: str) -> None:
    async with chromium() as browser, served(stage) as url:
        page = await new_page(browser, size, [])
        await page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        await signed_in(page, url, "head")
        for place in (*PLACES, stage.at("Ada"), "/nowhere", "/invitations/none"):
            await page.goto(url + place)
            if place != "/nowhere":
                await sound(page, await page.locator("h1").inner_text())


class _Told(HTMLParser):
    """Every text of a page, and what its labels and hints say."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.texts += [value or "" for name, value in attrs if name in ("aria-label", "title")]


#: By which a court joins.
CODE = re.compile(r"[2-9A-Z]{4}(?:-[2-9A-Z]{4}){3}")
#: Invented names, and how a court is told to join.
OWN = {"kim", "lee", "wall", "head", "Ada", "Ben", "Cleo", "red", "blue", "court", "one", "club",
       "example", "feedscript", "join", "http", "testserver", "qps", "up", "to", "keep", "lessons",
       "days", "audit"}  # fmt: skip


def test_no_words_are_left_outside_the_catalogues(store: Store, tmp_path: Path) -> None:
    stage = Stage(store)
    tongues = pseudo.with_marks(tmp_path)
    desk = Desk(store, stage.desk.who, lambda: stage.now_utc_s, tongues=tongues)
    stage.app = make_app(Club(store, desk.who), ["testserver"], people_routes(desk))
    with store.writing() as connection:
        for act in Act:
            audit.note(connection, 5.0, stage.head, act, "Ada")
    head, stranger = stage.browser(stage.head), stage.browser()
    for client in (head, stranger):
        client.headers["Accept-Language"] = pseudo.LANGUAGE
    player = stage.at("Ada")
    pages = [
        *(head.get(place) for place in (*PLACES[1:], player, "/players/none", "/audit?before=x")),
        *(stranger.get(place) for place in ("/", "/family/none", "/invitations/none")),
        head.post(f"{player}/links", data={"days": "7"}),
        head.post(f"{player}/forget", data={"sure": "Ben"}),
        head.post("/people/courts"),
        head.post("/people", data={"name": "kim", "login": "kim@club.example", "role": "coach"}),
        stranger.post("/sign-in", data={"login": "kim", "password": "x"}),
        head.post("/keeping/forget", data={"player": "Ada"}),
        head.post("/keeping", data={"lessons": "30", "readings": "30"}),
    ]
    for page in pages:
        told = _Told()
        code = {part for one in CODE.findall(page.text) for part in WORD.findall(one)}
        told.feed(head.get(page.headers["location"]).text if page.is_redirect else page.text)
        assert left_over(told.texts, OWN | code) == set(), page.url


Attack: TypeAlias = Callable[[Page, str], Awaitable[bool]]


async def script_reads_the_sign_in(page: Page, _url: str) -> bool:
    """What a script could do that somebody smuggled into a page."""
    return COOKIE in str(await page.evaluate("document.cookie"))


async def foreign_link_arrives_signed_in(page: Page, url: str) -> bool:
    """A link of another site's: 127.0.0.1 is not the site of a page without one."""
    await page.goto(f"data:text/html,<a href='{url}/groups'>look</a>")
    await page.get_by_role("link", name="look").click()
    await expect(page.locator("h1")).to_have_text(re.compile("Groups|Sign in"))
    return await page.locator("h1").inner_text() == "Groups"


@pytest.mark.anyio
@pytest.mark.parametrize(
    ("attack", "flag"),
    [
        (script_reads_the_sign_in, Cut(let_in_browser, "httponly=True,")),
        (foreign_link_arrives_signed_in, Cut(let_in_browser, '"strict"', '"lax"')),
    ],
    ids=["HttpOnly", "SameSite"],
)
async def test_each_flag_of_the_cookie_keeps_its_own_out(
    stage: Stage, monkeypatch: pytest.MonkeyPatch, attack: Attack, flag: Cut
) -> None:
    async with chromium() as browser, served(stage) as url:
        for off in (False, True):
            if off:
                flag.make(monkeypatch)
            page = await new_page(browser, SCREEN, [])
            await signed_in(page, url, "kim")
            assert await attack(page, url) is off
