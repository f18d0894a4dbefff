"""What a stand-in in the same process says is heard while it says it, until its wire is closed."""

from __future__ import annotations

import anyio
import pytest
import trio
from feedscript_drivers.wire.codec import plain_line
from feedscript_drivers.wire.messages import Heartbeat
from feedscript_simulator.links.driven import Driven
from feedscript_simulator.links.in_process import DirectStream
from feedscript_simulator.stand_in import build

from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_folder

BEAT = plain_line(Heartbeat(1, 0).body())


def direct() -> DirectStream:
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    return DirectStream(Driven(build(profile), lambda _bytes: None))


def test_what_was_said_before_and_what_is_said_since_comes_in_its_order() -> None:
    async def talk() -> list[bytes]:
        stream, heard = direct(), list[bytes]()
        await stream.send(BEAT)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.tell, heard.append)
            await anyio.wait_all_tasks_blocked()
            before = len(b"".join(heard).splitlines())
            await stream.send(BEAT)
            assert len(b"".join(heard).splitlines()) == before + 1, "heard before send came back"
            await stream.aclose()  # ends the telling, or the group would wait for ever
        return heard

    lines = b"".join(trio.run(talk)).splitlines()
    assert [line.split()[0] for line in lines] == [b"!", b"t", b"t"]  # that it was switched on


def test_nothing_is_heard_after_its_wire_was_closed() -> None:
    async def talk() -> None:
        stream, heard = direct(), list[bytes]()
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.tell, heard.append)
            await anyio.wait_all_tasks_blocked()
            await stream.aclose()
        said = list(heard)
        with pytest.raises(anyio.ClosedResourceError):
            await stream.send(BEAT)
        with pytest.raises(anyio.EndOfStream):
            await stream.receive()
        assert heard == said

    trio.run(talk)
