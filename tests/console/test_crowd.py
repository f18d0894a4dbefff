"""However many connect to the page, and whatever they do there, a paired device gets through
and the lesson hears none of it."""

from __future__ import annotations

import math
import socket
import threading
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import ExitStack, asynccontextmanager
from dataclasses import dataclass, field

import anyio
import httpx
import pytest
import uvicorn
import websockets
from hypothesis import given
from hypothesis import strategies as st

from feedscript.console import acceptor
from feedscript.console.access import Access, Paired, Role
from feedscript.console.connections import (
    IDLE_S,
    OF_DEVICE,
    PATIENCE_S,
    STRANGERS_IN_ALL,
    STRANGERS_OF_ADDRESS,
    Connection,
    Connections,
)
from feedscript.console.serve import Served, serve
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import Act
from tests.console.lesson import RememberingLesson
from tests.console.sent_along import of_its_page

WAIT_S = 20.0


@dataclass
class Crowd:
    """Connections without sockets, and who was told to leave."""

    now_s: float = 0.0
    left: list[Connection] = field(default_factory=list)
    spoke: list[Connection] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.connections = Connections(lambda: self.now_s)

    def enter(self, address: str) -> Connection:
        connection = Connection(
            address,
            leave=lambda: self.left.append(connection),
            gone=lambda: connection in self.left,
            spoke=lambda: connection in self.spoke,
            until_s=self.now_s + PATIENCE_S,
        )
        self.connections.enter(connection)
        return connection


@given(st.lists(st.integers(0, 30), max_size=600))
def test_the_newest_always_gets_in_and_the_greediest_makes_room(addresses: list[int]) -> None:
    crowd = Crowd()
    for number in addresses:
        before = Counter(connection.address for connection in crowd.connections.here)
        gone_before = len(crowd.left)
        newest = crowd.enter(f"10.0.0.{number}")
        assert newest in crowd.connections.here
        assert len(crowd.connections.here) <= STRANGERS_IN_ALL
        for pushed in crowd.left[gone_before:]:
            assert pushed.address == newest.address or before[pushed.address] == max(
                before.values()
            )
    each = Counter(connection.address for connection in crowd.connections.here)
    assert all(count <= STRANGERS_OF_ADDRESS for count in each.values())


@given(st.lists(st.integers(0, 300), max_size=600), st.integers(1, OF_DEVICE))
def test_no_crowd_pushes_a_paired_device_out(addresses: list[int], held: int) -> None:
    crowd = Crowd()
    paired = [crowd.enter("10.0.0.1") for _ in range(held)]
    for connection in paired:
        crowd.connections.asks(connection, "phone", stays=True)
    for number in addresses:
        crowd.enter(f"10.0.0.{number}")
    assert not set(map(id, paired)) & set(map(id, crowd.left))


@given(st.integers(0, STRANGERS_OF_ADDRESS - 2))
def test_who_has_said_something_goes_after_those_who_have_not(before: int) -> None:
    """So a phone's request is not pushed out by the crowd it came with, of its own address even."""
    crowd = Crowd()
    for _ in range(before):
        crowd.enter("a")
    phone = crowd.enter("a")
    crowd.spoke.append(phone)
    for _ in range(5 * STRANGERS_OF_ADDRESS):
        crowd.enter("a")
    assert phone in crowd.connections.here


@given(st.lists(st.integers(2, 400), max_size=600))
def test_room_is_kept_where_a_paired_device_is(addresses: list[int]) -> None:
    """Its next connection, of which nobody knows yet for whom it will speak, is not pushed out."""
    crowd = Crowd()
    crowd.connections.asks(crowd.enter("10.0.0.1"), "phone", stays=True)
    following = crowd.enter("10.0.0.1")
    for number in addresses:
        crowd.enter(f"10.0.0.{number}")
    assert following in crowd.connections.here


def test_a_device_keeps_its_socket_when_it_opens_too_much() -> None:
    crowd = Crowd()
    live = crowd.enter("a")
    crowd.connections.asks(live, "phone", stays=True)
    for _ in range(3 * OF_DEVICE):
        crowd.connections.asks(crowd.enter("a"), "phone", stays=False)
    assert live in crowd.connections.here
    assert len([one for one in crowd.connections.here if one.device == "phone"]) == OF_DEVICE


def test_patience_ends_with_a_request_that_does_not_come_or_is_not_taken() -> None:
    crowd = Crowd()
    idle, slow, live = (crowd.enter(address) for address in "abc")
    crowd.now_s = PATIENCE_S - 1.0
    crowd.connections.asks(slow, None, stays=False)
    crowd.connections.asks(live, "phone", stays=True)
    assert live.until_s == math.inf
    crowd.now_s = PATIENCE_S + 1.0
    crowd.connections.look()
    assert crowd.left == [idle]
    crowd.now_s = 3 * PATIENCE_S
    crowd.connections.look()
    assert crowd.left == [idle, slow]


# -- with real connections ----------------------------------------------------------------


@asynccontextmanager
async def page() -> AsyncIterator[tuple[Served, RememberingLesson]]:
    lesson = RememberingLesson()
    with anyio.fail_after(WAIT_S):
        async with serve(lesson) as served:
            yield served, lesson


def place(served: Served) -> tuple[str, int]:
    host, _, port = served.url.removeprefix("http://").partition(":")
    return host, int(port)


def stranger(served: Served, address: str = "127.0.0.1") -> socket.socket:
    connection = socket.create_connection(place(served), source_address=(address, 0))
    connection.setblocking(False)
    return connection


async def is_let_go(connection: socket.socket) -> None:
    """Wait until the page has ended it."""
    while True:
        await anyio.wait_readable(connection)
        try:
            if not connection.recv(4096):
                return
        except ConnectionResetError:
            return


def still_held(crowd: list[socket.socket]) -> int:
    held = 0
    for connection in crowd:
        try:
            held += connection.recv(1) != b""
        except BlockingIOError:
            held += 1
        except ConnectionResetError:
            pass
    return held


async def stops(served: Served, paired: Paired) -> int:
    """Send STOP as a page does whose socket has just gone."""
    async with httpx.AsyncClient(base_url=served.url) as phone:
        headers = of_its_page(served.url, paired)
        return (await phone.post("/stop", json={}, headers=headers, timeout=WAIT_S)).status_code


def pair(served: Served, role: Role = Role.COACH) -> Paired:
    paired = served.access.pair(served.access.new_code(role), role.value)
    assert isinstance(paired, Paired)
    return paired


@pytest.mark.anyio
async def test_a_paired_device_gets_through_a_crowd() -> None:
    async with page() as (served, lesson):
        device = pair(served)
        live = served.url.replace("http", "ws") + "/live"
        headers = of_its_page(served.url, device)
        async with websockets.connect(live, additional_headers=headers) as phone:
            await phone.recv()
            with ExitStack() as ends:
                crowd = []
                for number in range(450):  # from many places, and from the phone's own
                    address = f"127.0.0.{2 + number % 20}" if number % 2 else "127.0.0.1"
                    crowd.append(ends.enter_context(stranger(served, address)))
                assert await stops(served, device) == 200
                assert still_held(crowd) <= STRANGERS_IN_ALL
                late = served.access.new_code(Role.VIEWER)
                async with httpx.AsyncClient(base_url=served.url) as another:
                    headers = {"Origin": served.url}
                    paired = await another.post("/pair", json={"code": late}, headers=headers)
                assert paired.status_code == 200
                await phone.recv()  # the socket that was there before is there still
        assert [told for told, _ in lesson.told] == [SimpleCommand(act=Act.STOP)]


@pytest.mark.anyio
async def test_wrong_codes_of_one_address_lock_nobody_out_not_even_itself() -> None:
    async with page() as (served, _), httpx.AsyncClient(base_url=served.url) as client:
        right = served.access.new_code(Role.COACH)
        headers = {"Origin": served.url}
        for guess in range(40):
            wrong = await client.post("/pair", json={"code": f"{guess:010d}"}, headers=headers)
            assert wrong.status_code == 403
        said = await client.post("/pair", json={"code": right}, headers=headers)
        assert said.status_code == 200


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Patience is short, so that nobody waits for it here."""
    for module in ("acceptor", "connections"):
        monkeypatch.setattr(f"feedscript.console.{module}.PATIENCE_S", 0.2)
    monkeypatch.setattr(acceptor, "LOOK_S", 0.05)


POST = b"POST /pair HTTP/1.1\r\nHost: 127.0.0.1\r\nOrigin: http://127.0.0.1\r\n"


@pytest.mark.anyio
@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize(
    "says",
    [b"", b"G", b"GET / HTTP/1.1\r\nHost:", POST + b"Content-Length: 100\r\n\r\n{"],
    ids=["nothing", "one letter", "half a head", "half a body"],
)
async def test_who_does_not_come_to_the_point_is_let_go(says: bytes) -> None:
    async with page() as (served, _):
        with stranger(served) as connection:
            connection.sendall(says)
            await is_let_go(connection)


@pytest.mark.anyio
@pytest.mark.usefixtures("impatient")
async def test_who_says_a_letter_now_and_then_is_let_go() -> None:
    async with page() as (served, _):
        with stranger(served) as connection:
            async with anyio.create_task_group() as group:

                async def dribble() -> None:
                    for letter in b"GET / HTTP/1.1\r\nHost: " + b"a" * 10_000:
                        connection.send(bytes([letter]))
                        await anyio.sleep(0.02)

                async def wait() -> None:
                    await is_let_go(connection)
                    group.cancel_scope.cancel()

                group.start_soon(wait)
                try:
                    await dribble()
                except (BrokenPipeError, ConnectionResetError):
                    group.cancel_scope.cancel()


@pytest.mark.anyio
async def test_a_page_that_is_stuck_keeps_the_lesson_from_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whatever the page does, it does not do it in the lesson's loop."""
    reached, released = threading.Event(), threading.Event()
    stuck_in: list[threading.Thread] = []

    def device(self: Access, token: str | None) -> None:
        stuck_in.append(threading.current_thread())
        reached.set()
        released.wait(WAIT_S)

    async with page() as (served, lesson):
        monkeypatch.setattr(Access, "device", device)
        with stranger(served) as connection:
            connection.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            while not reached.is_set():
                await anyio.sleep(0.001)
            for _ in range(100):  # the lesson's loop turns on
                lesson.change()
                await anyio.sleep(0)
            released.set()
    assert threading.current_thread() not in stuck_in


@pytest.mark.anyio
async def test_a_command_is_carried_out_in_the_lessons_own_thread(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    did_in: list[threading.Thread] = []
    plain = RememberingLesson.command

    async def command(self: RememberingLesson, *words: object) -> None:
        did_in.append(threading.current_thread())
        await plain(self, *words)

    monkeypatch.setattr(RememberingLesson, "command", command)
    async with page() as (served, _):
        assert await stops(served, pair(served, Role.VIEWER)) == 200
    assert did_in == [threading.current_thread()]


@pytest.mark.anyio
async def test_a_page_that_dies_of_a_fault_says_so_and_the_lesson_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fails = threading.Event()

    async def falls_over(_: uvicorn.Server) -> None:
        while not fails.is_set():
            await anyio.sleep(0.01)
        raise RuntimeError("invented fault")

    monkeypatch.setattr(uvicorn.Server, "main_loop", falls_over)
    async with page() as (_, lesson):
        assert lesson.noticed == []
        fails.set()
        while not lesson.noticed:
            await anyio.sleep(0.01)
        assert [trouble.slug for trouble in lesson.noticed] == ["page-ended"]
        lesson.change()
        assert lesson.view.ending is None


def test_one_who_was_recognised_has_more_time_for_a_long_request_than_a_stranger() -> None:
    crowd = Crowd()
    stranger, known = crowd.enter("10.0.0.1"), crowd.enter("10.0.0.2")
    crowd.connections.asks(stranger, None, stays=False)
    crowd.connections.asks(known, "a court", stays=False, patience_s=acceptor.KNOWN_PATIENCE_S)
    crowd.now_s += PATIENCE_S
    crowd.connections.look()
    assert crowd.connections.here == [known]
    crowd.connections.is_answered(known)
    crowd.now_s += IDLE_S - 1.0
    crowd.connections.look()
    assert crowd.connections.here == [known]
    crowd.now_s += 1.0
    crowd.connections.look()
    assert crowd.connections.here == []
