"""An invented device on a pseudo-terminal, in a process of its own; started by a test.

``python -m tests.drivers.mapped.mapped_on_pty NAME ANSWER_S`` prints the port, then every ball as
JSON.
"""

from __future__ import annotations

import json
import os
import sys
import tty

import anyio
from feedscript_simulator.mapped_devices import DEVICES, DeviceStream


async def serve(name: str, answer_s: float) -> None:
    """Until the process is ended."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    stream = DeviceStream(DEVICES[name](), lambda: answer_s)
    tell({"port": os.ttyname(theirs)})
    async with anyio.create_task_group() as tasks:
        tasks.start_soon(stream.keep_time)
        tasks.start_soon(carry_out, stream, ours)
        tasks.start_soon(tell_balls, stream)
        while True:
            await anyio.wait_readable(ours)
            await stream.send(os.read(ours, 4096))


async def carry_out(stream: DeviceStream, ours: int) -> None:
    while True:
        os.write(ours, await stream.receive())


async def tell_balls(stream: DeviceStream) -> None:
    told = 0
    while True:
        for gone in stream.device.hardware.left[told:]:
            tell({"drives": gone.drives, "aim_deg": gone.aim_deg})
            told += 1
        await anyio.sleep(0.02)


def tell(what: dict[str, object]) -> None:
    print(json.dumps(what), flush=True)


if __name__ == "__main__":
    anyio.run(serve, sys.argv[1], float(sys.argv[2]))
