"""The way from a court to its club, as bad as it can be; repeatable from a seed."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, field

import httpx
from starlette.types import ASGIApp


@dataclass
class BadNetwork(httpx.AsyncBaseTransport):
    """Loses requests, loses answers, brings a request twice, and brings old ones again late."""

    app: ASGIApp
    draw: random.Random
    trouble: float = 0.0  # the share of requests to which something happens
    cut: bool = False
    planned: list[str] = field(default_factory=list)  # what happens to the next ones
    old: list[httpx.Request] = field(default_factory=list)
    met: Counter[str] = field(default_factory=Counter)

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        await request.aread()
        if self.cut:
            raise httpx.ConnectError("no route")
        happens = "" if self.draw.random() >= self.trouble else self.draw.choice(ALL)
        if self.planned:
            happens = self.planned.pop(0)
        self.met[happens] += 1
        if happens == "lost":
            raise httpx.ConnectError("reset")
        if happens == "late" and self.old:
            await self._brought(self.draw.choice(self.old))
        answer = await self._brought(request)
        self.old.append(request)
        if happens == "twice":
            answer = await self._brought(request)
        if happens == "answer lost":
            raise httpx.ReadError("reset")
        if happens == "down":
            return httpx.Response(503, json={"diagnostic": {"message": "down"}, "wanted": None})
        return answer

    async def _brought(self, request: httpx.Request) -> httpx.Response:
        again = httpx.Request(
            request.method, request.url, headers=request.headers, content=request.content
        )
        answer = await httpx.ASGITransport(self.app).handle_async_request(again)
        content = await answer.aread()
        return httpx.Response(answer.status_code, headers=answer.headers, content=content)


ALL = ("lost", "twice", "late", "answer lost", "down")
