"""Links that anybody may speak on: what a host believes there, and who can keep it out."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Callable

import anyio
import pytest
import trio
import trio.testing
from anyio.abc import ByteStream
from feedscript_drivers.mapped.driver import connect as connect_mapped
from feedscript_drivers.setting_up.keys import keep_key
from feedscript_drivers.transports import serial_port, tcp
from feedscript_drivers.wire.codec import crc16
from feedscript_drivers.wire.protocol import COUNTER_AHEAD, VERSION, StopCharacter
from feedscript_drivers.wire.trust import Trust
from feedscript_drivers.wire.wire_launcher import WireLauncher, open_launcher
from feedscript_simulator.faults import Faults
from feedscript_simulator.links.callers import Caller, Callers
from feedscript_simulator.links.in_process import attach
from feedscript_simulator.links.on_pty import on_pty
from feedscript_simulator.links.on_tcp import on_tcp
from feedscript_simulator.stand_in import StandIn, build

from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript.shipped import shipped_folder
from tests.drivers.faults.faulty_world import PROFILE

KEY = bytes(range(32))
OPTIONS = ConnectOptions(profile=PROFILE, session=1)


@pytest.fixture(autouse=True)
def own_data_folder(monkeypatch, tmp_path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def plain(body: str) -> bytes:
    return f"{body}*{crc16(body.encode()):04X}\n".encode()


class Stranger(ByteStream):
    """Sits on the line: changes what the launcher says, and adds lines of its own."""

    def __init__(self, inner: ByteStream, change: Callable[[bytes], bytes]) -> None:
        self.inner, self.change, self.host_said = inner, change, bytearray()

    async def send(self, item: bytes) -> None:
        self.host_said += item
        await self.inner.send(item)

    async def receive(self, max_bytes: int = 65536) -> bytes:
        while True:
            data = b"".join(
                self.change(line) for line in (await self.inner.receive()).splitlines(True)
            )
            if data:
                return data

    async def send_eof(self) -> None:
        await self.inner.send_eof()

    async def aclose(self) -> None:
        await self.inner.aclose()


def nothing(line: bytes) -> bytes:
    return line


def hello_with(place: int, word: str) -> Callable[[bytes], bytes]:
    """Gives the answer to a plain hello another word."""

    def change(line: bytes) -> bytes:
        words = line.rpartition(b"*")[0].decode().split(" ")
        if line[-6:-5] != b"*" or words[1:3] != ["OK", f"{VERSION}"] or len(words) != 10:
            return line
        words[2 + place] = word
        return plain(" ".join(words))

    return change


@contextlib.asynccontextmanager
async def radio(
    stand_in: StandIn, change: Callable[[bytes], bytes] = nothing, trust: Trust = Trust.KEYED
) -> AsyncIterator[tuple[WireLauncher, Stranger]]:
    """A host on a link with a stranger in it."""
    async with attach(stand_in, Faults()) as wire:
        stranger = Stranger(wire, change)
        async with open_launcher(stranger, OPTIONS, "radio", trust=trust) as launcher:
            yield launcher, stranger


def stand_in_of(*, key: bytes | None = KEY, cable: bool = False) -> StandIn:
    return build(PROFILE, powered_s=anyio.current_time(), cable=cable, key=key)


def slug_of(change: Callable[[bytes], bytes] = nothing, **options) -> str:
    """The diagnostic that an opening over a radio ends with."""

    async def run() -> None:
        async with radio(stand_in_of(**options), change):
            pass

    with pytest.raises(LauncherError) as caught:
        trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))
    return caught.value.diagnostic.slug


def test_without_a_key_a_radio_is_not_opened_even_by_a_launcher_that_would_let_itself() -> None:
    assert slug_of(key=None, cable=True) == "key-refused"


def test_a_launcher_that_says_it_takes_no_key_is_a_downgrade() -> None:
    keep_key(PROFILE.serial, KEY)
    assert slug_of(hello_with(3, "60F")) == "key-downgrade"
    assert slug_of(hello_with(3, "60F"), cable=True) == "key-downgrade"


def test_a_key_that_does_not_fit_is_not_done_without() -> None:
    """Not even with a launcher that would be opened in plain."""
    keep_key(PROFILE.serial, bytes(32))
    assert slug_of(cable=True) == "no-answer"


def test_another_name_for_the_launcher_opens_nothing() -> None:
    keep_key(PROFILE.serial, KEY)

    def change(line: bytes) -> bytes:
        number = line.split(b" ")[0].decode()
        return plain(f"{number} OK other-1 other") if PROFILE.serial.encode() in line else line

    assert slug_of(change) == "key-refused"


def test_what_was_said_before_the_key_is_not_believed() -> None:
    """A stranger claims a watchdog that ends sooner, and a longer queue."""
    keep_key(PROFILE.serial, KEY)

    def change(line: bytes) -> bytes:
        return hello_with(6, "9")(hello_with(5, "300")(line))

    async def run() -> None:
        async with radio(stand_in_of(), change) as (launcher, _):
            assert launcher.description.watchdog_s == 1.0
            assert launcher.description.queue_depth == 4

    trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))


def test_a_ball_that_a_stranger_tells_of_is_not_taken_in() -> None:
    keep_key(PROFILE.serial, KEY)

    async def run() -> None:
        stand_in = stand_in_of()

        def change(line: bytes) -> bytes:
            return line + plain("! 3 5000 LEFT 1") + plain("! 4 5000 STATE 6 10")

        async with radio(stand_in, change) as (launcher, _):
            seen: list[object] = []
            with anyio.move_on_after(5.0):
                async for event in launcher.events():
                    seen.append(event)
            assert seen == []
            assert launcher.link.lost is None

    trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))


async def opens(stand_in: StandIn, change: Callable[[bytes], bytes] = nothing) -> bool:
    try:
        async with radio(stand_in, change) as (launcher, _):
            return (await launcher.status()).queued == 0
    except LauncherError:
        return False


def opens_twice(first: Callable[[bytes], bytes]) -> list[bool]:
    """A launcher opened by way of a stranger, and then by the same host without one."""

    async def run() -> list[bool]:
        stand_in = stand_in_of()
        return [await opens(stand_in, first), await opens(stand_in)]

    return trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))


@pytest.mark.parametrize("counter", [COUNTER_AHEAD, 2**31, 2**32 - 2**20, 2**32 - 2, 2**32 - 1])
def test_a_false_counter_burns_nothing(counter: int) -> None:
    keep_key(PROFILE.serial, KEY)
    assert opens_twice(hello_with(2, str(counter))) == [False, True]


def test_that_it_burns_nothing_is_the_launchers_doing(monkeypatch) -> None:
    """Without the window the launcher takes the highest counter, and then no other."""
    keep_key(PROFILE.serial, KEY)
    monkeypatch.setattr("feedscript_drivers.wire.seal.COUNTER_AHEAD", 2**32)
    assert opens_twice(hello_with(2, str(2**32 - 2**20 - 1))) == [True, False]


async def opened_by(opening: contextlib.AbstractAsyncContextManager[LauncherPort]) -> str:
    try:
        async with opening as launcher:
            return launcher.description.name
    except LauncherError as error:
        return error.diagnostic.slug


def test_on_loopback_a_stand_in_may_be_used_without_a_key_when_the_address_says_so() -> None:
    async def run() -> list[str]:
        found = []
        async with on_tcp(stand_in_of(key=None, cable=True), 0) as address:
            found.append(await opened_by(tcp.connect(f"{address}@unkeyed", OPTIONS)))
            found.append(await opened_by(tcp.connect(address, OPTIONS)))
        return found

    assert anyio.run(run) == ["Garage-two-wheel", "key-refused"]


class Far:
    """A socket whose other end says that it is on another machine."""

    def extra(self, _attribute: object) -> tuple[str, int]:
        return ("192.0.2.7", 7878)

    async def aclose(self) -> None:
        pass


@pytest.mark.parametrize(
    "opening",
    [
        lambda: tcp.connect("192.0.2.7:7878@unkeyed", OPTIONS),
        lambda: connect_mapped(
            f"{shipped_folder()}/launchers/mapped/chatty-lines.toml@tcp:192.0.2.7:7878", OPTIONS
        ),
    ],
    ids=["unkeyed", "mapped"],
)
def test_lines_without_a_key_are_believed_on_this_machine_only(opening, monkeypatch) -> None:
    async def far(*_: object) -> Far:
        return Far()

    async def run() -> str:
        return await opened_by(opening())

    monkeypatch.setattr(anyio, "connect_tcp", far)
    assert anyio.run(run) == "key-downgrade"


def test_a_serial_port_with_a_radio_behind_it_is_no_cable() -> None:
    async def run() -> list[str]:
        found = []
        stand_in = build(PROFILE, powered_s=anyio.current_time(), key=KEY)
        async with on_pty(stand_in) as device:
            found.append(await opened_by(serial_port.connect(f"{device}@keyed", OPTIONS)))
            keep_key(PROFILE.serial, KEY)
            found.append(await opened_by(serial_port.connect(f"{device}@keyed", OPTIONS)))
        return found

    assert anyio.run(run) == ["key-refused", "Garage-two-wheel"]
    assert serial_port.split_trust("/dev/rfcomm0", Trust.CABLE)[1] is Trust.KEYED


# Who holds a connection keeps nobody out.


async def _with_strangers(strangers: int, said: bytes = b"") -> bool:
    """Whether the host opens, is armed and sees a state change while strangers are connected."""
    async with on_tcp(stand_in_of(), 0) as address, contextlib.AsyncExitStack() as stack:

        async def stranger() -> None:
            where = await anyio.connect_tcp(*tcp.parse_address(address))
            await (await stack.enter_async_context(where)).send(said or b"x")

        for _ in range(strangers):
            await stranger()
        with anyio.fail_after(20):
            async with tcp.connect(address, OPTIONS) as launcher:
                await stranger()
                await launcher.arm((1000.0, 1000.0))
                async for event in launcher.events():
                    if getattr(event, "state", None) == "awaiting-arm":
                        return (await launcher.status()).state == "awaiting-arm"
    return False


@pytest.mark.parametrize(
    ("strangers", "said"),
    [
        (1, b""),
        (40, b""),
        (3, b"half a line that never ends"),
        (3, plain("7 STAT") * 20),
        (3, plain("T 1 0") * 20),
        (3, b"*" * 5000),
    ],
)
def test_an_idle_or_babbling_connection_does_not_shut_the_host_out(
    strangers: int, said: bytes
) -> None:
    keep_key(PROFILE.serial, KEY)
    assert anyio.run(_with_strangers, strangers, said)


def test_events_go_to_the_host_and_replies_to_whoever_asked() -> None:
    """Also an event that somebody else's line causes, such as a stranger's stop."""
    obeyed = 0
    told: dict[str, list[bytes]] = {"host": [], "stranger": []}

    def hear(line: bytes) -> None:
        nonlocal obeyed
        obeyed += line == b"keyed\n"
        callers.answer(b"! 1 event\n" + b"reply to " + line)

    callers = Callers(hear, lambda: obeyed)
    host = Caller(told["host"].append, lambda: None)
    stranger = Caller(told["stranger"].append, lambda: None)
    for caller in (host, stranger):
        callers.come(caller)
    callers.say(host, b"keyed\n")
    callers.say(stranger, b"half a li")
    callers.say(host, b"one\n")
    callers.say(stranger, b"ne\n")
    callers.answer(b"! 2 event\n")
    assert told["stranger"] == [b"reply to half a line\n"]
    replies = [b"reply to keyed\n", b"reply to one\n"]
    assert [line for line in told["host"] if not line.startswith(b"!")] == replies
    assert told["host"].count(b"! 1 event\n") == 2
    assert told["host"][-1] == b"! 2 event\n"


def test_a_stranger_on_the_network_can_stop_and_is_answered() -> None:
    async def run() -> bytes:
        async with on_tcp(stand_in_of(), 0) as address:
            stranger = await anyio.connect_tcp(*tcp.parse_address(address))
            async with stranger:
                await stranger.send(bytes([StopCharacter.EMERGENCY]) + plain("5 STAT"))
                with anyio.fail_after(5):
                    return await stranger.receive()

    assert anyio.run(run).startswith(b"5 OK 5 2 ")
