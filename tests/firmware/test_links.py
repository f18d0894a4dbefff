"""A launcher with a cable and a radio, as compiled: who may say what by which, and who is told."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import anyio
import pytest
from feedscript_drivers.setting_up.pairing import put_key
from feedscript_drivers.wire.trust import Trust

from feedscript.launcher.port import LauncherError, LauncherState
from feedscript.session.operator.phases import Phase
from tests.firmware.far_end import FarEnd
from tests.firmware.plain_host import PlainHost
from tests.firmware.test_keyed import KEY, NONCE, KeyedHost
from tests.firmware.test_programs import THIRTY, conduct
from tests.firmware.virtual_link import garage, in_virtual_time, stepped_launcher

RADIO = 1
IMAGES = ("posix", "rp2040")


@pytest.fixture(params=IMAGES)
def far(request: pytest.FixtureRequest, memories: dict[str, Path]) -> Iterator[FarEnd]:
    with FarEnd(request.param, memory=memories[request.param]) as running:
        yield running


@pytest.fixture
def air(host: PlainHost) -> Iterator[PlainHost]:
    """Who speaks by the radio of a paired launcher, at whose cable a host has a session."""
    host.must(f"PAIR {KEY.hex()}", wait=800)
    with PlainHost(host.far, RADIO) as stranger:
        stranger.beats = False
        yield stranger


def test_a_stop_by_the_radio_ends_a_run_at_the_cable(host: PlainHost, air: PlainHost) -> None:
    """A stop character and a plain line, from somebody without a key, who can do nothing else."""
    for ident, stop in enumerate((b"\x05", b"900 STOP 1*53EC\n"), start=1):
        host.arm()
        host.feed(ident, 4000)
        for text in ("ARM 1 1 0", "OPEN 5 5", "GO", "SET 12 41"):
            assert air.command(text) == "NO 13", text
        host.beat()
        assert air.command("STAT").startswith("OK 2 ")
        air.write(stop)
        air.advance(20)
        host.advance(400)
        pins = host.far.get()
        assert pins["power_off_us"] > 0
        assert host.state() == 0
        assert host.must(f"HIST {ident}")[1] == "N"
    assert host.far.leaves() == []


def test_the_paired_host_takes_a_run_over_by_the_radio(host: PlainHost, air: PlainHost) -> None:
    host.arm()
    host.feed(1, 4000)
    keyed = KeyedHost(air)
    keyed.open()
    host.advance(400)
    assert ["4", "9"] in host.words("STATE")  # it is told that somebody else has opened
    assert host.command("GO") == "NO 13"
    assert air.far.get()["power_off_us"] > 0
    heard = len(host.events)
    air.far.set("arm_switch", 0)
    air.advance(60)
    assert keyed.say("ARM 3000 3000 0") == "OK"
    keyed.beat()
    air.advance(60)
    air.far.set("arm_switch", 1)
    keyed.beat()
    air.advance(60)
    assert keyed.say(f"FEED 1 {air.clock + 5000} 2000 1500 0 0 1000 0") == "OK"
    for _ in range(60):
        keyed.beat()
        air.advance(100)
    host.advance(10)
    assert len(air.far.leaves()) == 1
    assert any(line.endswith("LEFT 1") for line in keyed.lines)
    assert len(host.events) == heard  # what happens in a run is told to its own host alone
    assert keyed.say("SET 12 41") == "NO 14"


def test_a_ball_on_its_way_is_told_by_the_link_that_fed_it(host: PlainHost, air: PlainHost) -> None:
    host.arm()
    host.feed(1, 4000)
    while not host.far.get()["gate"]:
        host.run(20, step=20)
    host.run(80, step=20)  # the ball is past the gate
    keyed = KeyedHost(air)
    keyed.nonce = NONCE
    assert keyed.say(f"OPEN 9 {NONCE}").startswith("OK 0 0 0")
    host.advance(50)
    assert ["1"] in host.words("LEFT")
    assert not any(" LEFT " in line for line in keyed.lines)
    assert keyed.say("HIST 1").startswith("OK 1 N")  # of another session


def test_a_flood_by_the_radio_moves_no_ball(host: PlainHost, air: PlainHost) -> None:
    """Forged lines back to back, each of which must be hashed to be known as forged."""
    flood = (f"{'9' * 80}#00000001{'0' * 16}\n").encode() * 10
    host.arm()
    host.run(20)
    due = host.clock + 6000
    assert host.command(f"FEED 1 {due} 2000 1500 0 0 1000 0") == "OK"
    for _ in range(105):
        air.write(flood)
        host.run(60)
        assert host.command("STAT", wait=50).startswith("OK 2 ")
    ((_, moment, _, _),) = [event for event in host.events if event[2] == "LEFT"]
    assert abs(int(moment) - due) <= 2
    assert int(host.must("CNTS")[2]) > 500


async def pair(far: FarEnd) -> None:
    async with stepped_launcher(far, garage()) as (launcher, _):
        await put_key(launcher)


@pytest.fixture(params=IMAGES)
def paired(
    request: pytest.FixtureRequest,
    garage_memory: dict[str, Path],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> Iterator[FarEnd]:
    """A launcher whose key is here too, paired at its cable."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    with FarEnd(request.param, memory=garage_memory[request.param]) as running:
        in_virtual_time(pair, running)
        yield running


def test_a_lesson_by_the_radio_with_the_cable_in(paired: FarEnd) -> None:
    """Through engine and driver: every ball of it leaves, and nothing of it goes over the cable."""
    before = paired.get()["sent"]
    ending, balls = in_virtual_time(
        conduct, THIRTY.replace("repeat 15", "repeat 2"), paired, garage(), Trust.KEYED, RADIO
    )
    assert ending.phase is Phase.FINISHED
    assert sum(ball["outcome"] == "left" for ball in balls) == len(paired.leaves()) == 5
    told_before_it_was_opened = 400  # farewell of the session at the cable
    assert paired.get()["sent"] - before < told_before_it_was_opened


async def taken_over(far: FarEnd) -> tuple[str, LauncherState]:
    """What the host at the cable learns when one opens by radio, and the launcher's state then."""
    slug = ""
    try:
        async with stepped_launcher(far, garage()) as (launcher, _):
            await launcher.arm((3000.0, 3000.0))
            while (await launcher.status()).state is not LauncherState.ARMED:
                await anyio.sleep(0.1)
            async with stepped_launcher(far, garage(), 8, trust=Trust.KEYED, link=RADIO) as other:
                await anyio.sleep(0.5)
                state = (await other[0].status()).state
                await launcher.status()
    except LauncherError as lost:
        slug = lost.diagnostic.slug
    return slug, state


def test_the_driver_at_the_cable_is_told_that_the_radio_has_opened(paired: FarEnd) -> None:
    slug, state = in_virtual_time(taken_over, paired)
    assert state is LauncherState.SAFE
    assert slug == "link-lost"
