"""The simulated launcher on virtual Bluetooth, as a program of its own: what it says, as JSON."""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import AsyncIterator
from pathlib import Path

from feedscript_simulator.program import StandInOptions, serve
from feedscript_simulator.stand_in import StandIn

from feedscript.launcher.profile.read_profile import read_profile
from tests.drivers.virtual_ble.on_air import on_air


def say(line: str) -> None:
    print(line, flush=True)


@contextlib.asynccontextmanager
async def told(stand_in: StandIn) -> AsyncIterator[str]:
    """On air, and the address of the bus by which another process finds it is said first."""
    async with on_air(stand_in) as name:
        say(json.dumps({"event": "bus", "bus": os.environ["DBUS_SYSTEM_BUS_ADDRESS"]}))
        yield name


def main(profile: str) -> None:
    known = read_profile(Path(profile)).profile
    assert known is not None
    serve(StandInOptions(known, radio=told, arms_by_itself=True, as_json=True), say)


if __name__ == "__main__":
    main(sys.argv[1])
