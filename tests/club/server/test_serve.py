"""A server as it is started: its owner comes in by a code of its terminal; a fault ends it."""

from __future__ import annotations

import asyncio
from contextlib import closing
from pathlib import Path

import httpx

from feedscript.club.messages import EVENTS, INVITE, JOIN
from feedscript.club.server.address import listen_at
from feedscript.club.server.club import Club
from feedscript.club.server.owner import ENTER, Owner
from feedscript.club.server.serve import serve
from feedscript.club.store.store import open_store


async def day(club: Club, owner: Owner, url: str) -> None:
    """What an owner does first; then one of the server's works ends by a fault."""
    async with httpx.AsyncClient(base_url=url, headers={"Origin": url}) as page:
        assert (await page.get("/health")).json() == {"well": True}
        assert (await page.post(INVITE, json={})).status_code == 401
        code = owner.code()
        for status in (200, 403):  # it works once
            entered = await page.post(ENTER, json={"code": code, "name": "the owner"})
            assert entered.status_code == status
        invited = await page.post(INVITE, json={})
        asked = {"code": invited.json()["code"], "name": "court one"}
        joined = await page.post(JOIN, json=asked)
        bearer = {"Authorization": f"Bearer {joined.json()['key']}"}
        assert (await page.get(EVENTS, headers=bearer)).json() == {"held": {}}
    club.fault = RuntimeError("one of its works has ended")


def test_the_owner_comes_in_and_a_fault_ends_the_server(tmp_path: Path) -> None:
    async def main() -> None:
        reached = listen_at("127.0.0.1:0", (), None)
        owner = Owner()
        with closing(open_store(tmp_path / "club.sqlite")) as store:
            club = Club(store, owner.who)
            async with asyncio.timeout(30), asyncio.TaskGroup() as group:
                group.create_task(serve(club, reached, owner.routes()))
                group.create_task(day(club, owner, reached.url))

    asyncio.run(main())
