"""What a crowd at the page's door costs a lesson: times of leaving, and STOP to launcher.

    python tests/benchmarks/strangers.py [--idle 1000] [--slow 20] [--balls 60] [--stops 100]

The lesson runs in this process with the console; the launcher is the stand-in in a process of its
own on a pseudo-terminal; the crowd is in a third. Of its connections the idle ones say nothing, the
slow ones a letter of a request every half second; each that is let go comes again a second later.
They come from fifty addresses and from the phone's own. Printed, without the crowd and with it: how
far each ball left from its planned moment by the launcher's own clock, and the round trip of a stop
(sent over a fresh connection each time, from a page whose socket has gone, to the launcher and its
acknowledgement back); and how often somebody of the crowd was let in and let go.
"""

from __future__ import annotations

import argparse
import contextlib
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import anyio

from feedscript.console.serve import Served
from tests.benchmarks.console import one_run, told
from tests.benchmarks.link import machine

CROWD = """
import asyncio, resource, signal, sys
host, port, idle, slow = sys.argv[1], *map(int, sys.argv[2:])
hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
resource.setrlimit(resource.RLIMIT_NOFILE, (hard, hard))
REQUEST = b"GET / HTTP/1.1\\r\\nHost: " + b"a" * 1000
held, let_in, let_go = 0, 0, 0

async def one(number, letters):
    global held, let_in, let_go
    address = "127.0.0.1" if number % 50 == 0 else f"127.0.0.{number % 50 + 1}"
    while True:
        try:
            reader, writer = await asyncio.open_connection(host, port, local_addr=(address, 0))
        except OSError:
            await asyncio.sleep(1.0)
            continue
        let_in, held = let_in + 1, held + 1
        says = asyncio.create_task(say(writer, letters))
        try:
            while await reader.read(1000):
                pass
        except OSError:
            pass
        says.cancel()
        writer.transport.abort()
        let_go, held = let_go + 1, held - 1
        await asyncio.sleep(1.0)

async def say(writer, letters):
    for letter in letters:
        writer.write(bytes([letter]))
        await asyncio.sleep(0.5)

async def main():
    ends = asyncio.Event()
    asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, ends.set)
    crowd = [asyncio.create_task(one(n, REQUEST if n < slow else b"")) for n in range(idle + slow)]
    await ends.wait()
    print(f"  the crowd: {let_in} let in, {let_go} let go, {held} there at the end", flush=True)

asyncio.run(main())
"""


@contextmanager
def crowd(served: Served, idle: int, slow: int) -> Iterator[None]:
    host, _, port = served.url.removeprefix("http://").partition(":")
    words = [sys.executable, "-c", CROWD, host, port, str(idle), str(slow)]
    process = subprocess.Popen(words)
    try:
        yield
    finally:
        process.terminate()
        process.wait()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--idle", type=int, default=1000)
    parser.add_argument("--slow", type=int, default=20)
    parser.add_argument("--balls", type=int, default=60)
    parser.add_argument("--stops", type=int, default=100)
    chosen = parser.parse_args()
    with machine():
        for words, beside in (
            ("alone", lambda _: contextlib.nullcontext()),
            (
                f"{chosen.idle} idle and {chosen.slow} slow connections",
                lambda served: crowd(served, chosen.idle, chosen.slow),
            ),
        ):
            late, stops = anyio.run(one_run, beside, chosen.balls, chosen.stops)
            print(words)
            print("  " + told("left, off its planned moment", late))
            print("  " + told("stop, page to launcher and back", stops))


if __name__ == "__main__":
    main()
