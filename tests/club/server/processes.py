"""Server processes as a club runs them, and courts and pages that speak to them by the network."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import httpx
import msgspec
from websockets.sync.client import ClientConnection, connect

from feedscript.club.messages import INVITE, JOIN, LIVE, NEWS
from feedscript.club.people.beginning import FIRST

PASSWORD = "clay under blue umbrellas"
FEEDSCRIPT = [sys.executable, "-c", "from feedscript.cli import main; main()"]


class Served(msgspec.Struct):
    """One server process, and its head coach's page."""

    process: subprocess.Popen[str]
    url: str
    page: httpx.Client

    def post(self, place: str, body: object) -> Any:
        answer = self.page.post(place, json=body)
        assert answer.is_success, answer.text
        return answer.json()

    def join(self, name: str) -> tuple[str, str]:
        """A court's own name and key."""
        code = self.post(INVITE, {})["code"]
        joined = self.post(JOIN, {"code": code, "name": name})
        return joined["host"], joined["key"]

    def socket(self, place: str, **headers: str) -> ClientConnection:
        return connect(self.url.replace("http", "ws", 1) + place, additional_headers=headers)

    def court(self, key: str) -> ClientConnection:
        return self.socket(LIVE, Authorization=f"Bearer {key}")

    def news(self) -> ClientConnection:
        cookies = "; ".join(f"{name}={value}" for name, value in self.page.cookies.items())
        return self.socket(NEWS, Cookie=cookies, Origin=self.url)


def come_in(page: httpx.Client, invitation: str | None) -> None:
    """By the link of a server that has no head coach yet; else by the password chosen then."""
    if invitation is not None:
        came = page.post(invitation, data={"password": PASSWORD, "again": PASSWORD})
    else:
        came = page.post("/sign-in", data={"login": FIRST, "password": PASSWORD})
    assert came.status_code == 303, came.text


@contextmanager
def serving(address: str) -> Iterator[Served]:
    """`feedscript club serve` on this store, its head coach signed in."""
    words = ["club", "serve", "--store", address, "--bind", "127.0.0.1:0", "--format", "json"]
    with subprocess.Popen(
        [*FEEDSCRIPT, *words], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout is not None
            told = json.loads("".join(iter(process.stdout.readline, "}\n")) + "}")
            with httpx.Client(base_url=told["url"], headers={"Origin": told["url"]}) as page:
                served = Served(process, told["url"], page)
                come_in(page, told["invitation"])
                yield served
        finally:
            process.kill()


def next_of(socket: ClientConnection, kind: str, **fields: Any) -> dict[str, Any]:
    """The next message of this kind in which these fields are so; what comes before is passed.

    Raises TimeoutError when there is none for half a minute, whatever else is said meanwhile."""
    until_s = time.monotonic() + 30.0
    while True:
        told: dict[str, Any] = json.loads(socket.recv(timeout=max(0.0, until_s - time.monotonic())))
        if told["type"] == kind and fields.items() <= told.items():
            return told


def say(socket: ClientConnection, kind: str, **fields: Any) -> None:
    socket.send(json.dumps({"type": kind, **fields}))
