"""A server as it is started: its first head coach comes in by a link of its terminal; a fault ends
it."""

from __future__ import annotations

import asyncio
import time
from contextlib import AsyncExitStack, closing
from pathlib import Path

import httpx
from websockets.asyncio.client import connect

from feedscript.club.messages import EVENTS, INVITE, JOIN, LIVE
from feedscript.club.people.beginning import INVITED, first_invitation
from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.routes import people_routes
from feedscript.club.people.passwords import Cost
from feedscript.club.people.signing_in import who_of
from feedscript.club.server.address import listen_at
from feedscript.club.server.club import Club
from feedscript.club.server.serve import serve
from feedscript.club.store.store import open_store
from feedscript.console.connections import STRANGERS_OF_ADDRESS
from tests.club.lessons import court

CHEAP = Cost(passes=1, memory_kib=64, lanes=1)
PASSWORD = "clay under blue umbrellas"


async def day(club: Club, url: str) -> None:
    """What a head coach does first; then one of the server's works ends by a fault."""
    async with httpx.AsyncClient(base_url=url, headers={"Origin": url}) as page:
        assert (await page.get("/health")).json() == {"well": True}
        assert (await page.post(INVITE, json={})).status_code == 401
        code = first_invitation(club.store, time.time())
        chosen = {"password": PASSWORD, "again": PASSWORD}
        for status in (303, 404):  # it works once
            taken = await page.post(f"{INVITED}{code}", data=chosen)
            assert taken.status_code == status
        assert first_invitation(club.store, time.time()) is None
        invited = await page.post(INVITE, json={})
        asked = {"code": invited.json()["code"], "name": "court one"}
        joined = await page.post(JOIN, json=asked)
        bearer = {"Authorization": f"Bearer {joined.json()['key']}"}
        assert (await page.get(EVENTS, headers=bearer)).json() == {"held": {}}
    club.fault = RuntimeError("one of its works has ended")


#: More than the door keeps of strangers from one address.
COURTS = STRANGERS_OF_ADDRESS + 4


async def full_house(club: Club, url: str) -> None:
    """A hall's courts behind one address; each says that it is there, and is answered."""
    async with AsyncExitStack() as opened:
        lines = [
            await opened.enter_async_context(
                connect(
                    f"ws{url.removeprefix('http')}{LIVE}",
                    additional_headers={"Authorization": f"Bearer {court(club.store).key}"},
                )
            )
            for _ in range(COURTS)
        ]
        for line in lines:
            await line.send('{"type": "alive"}')
            assert await line.recv() == '{"type":"here"}'
    club.fault = RuntimeError("that is all")


def test_more_courts_stay_than_strangers_would_from_one_address(tmp_path: Path) -> None:
    async def main() -> None:
        reached = listen_at("127.0.0.1:0", (), None)
        with closing(open_store(tmp_path / "club.sqlite")) as store:
            club = Club(store, who_of(store, time.time))
            async with asyncio.timeout(60), asyncio.TaskGroup() as group:
                group.create_task(serve(club, reached, ()))
                group.create_task(full_house(club, reached.url))

    asyncio.run(main())


def test_the_first_head_coach_comes_in_and_a_fault_ends_the_server(tmp_path: Path) -> None:
    async def main() -> None:
        reached = listen_at("127.0.0.1:0", (), None)
        with closing(open_store(tmp_path / "club.sqlite")) as store:
            club = Club(store, who_of(store, time.time))
            routes = people_routes(Desk(store, club.who, cost=CHEAP))
            async with asyncio.timeout(30), asyncio.TaskGroup() as group:
                group.create_task(serve(club, reached, routes))
                group.create_task(day(club, reached.url))

    asyncio.run(main())
