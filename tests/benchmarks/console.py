"""What fifty watching screens cost a lesson: times of leaving, and stop to launcher.

    python tests/benchmarks/console.py [--viewers 50] [--balls 30] [--stops 100]

The lesson runs in this process with the console; the launcher is the stand-in in a process of its
own on a pseudo-terminal; the viewers are web sockets in a third process. Printed, without viewers
and with them: how far each ball left from its planned moment by the launcher's own clock (median
and 99th percentile), and the round trip of a stop request from a page to the launcher's
acknowledgement.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from pathlib import Path
from urllib.parse import urlsplit

import anyio
import numpy as np

from feedscript.check.check_program import check_program
from feedscript.console.access import COOKIE, Role
from feedscript.console.serve import Served, serve
from feedscript.journal.store import open_journal
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.start import Setting
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.phases import Phase

PROGRAM = """feedscript 1
title "Watched by many (invented)"
court    {{ surface hard }}
balls    {{ type 2   load 80 }}
launcher {{ stands 1 m behind centre mark }}
feed deep {{ land 3 m inside baseline, on centre line   speed 80 km/h }}
lesson {{ show speed of deep   repeat {balls} {{ send deep after 2 s }} }}
"""

STAND_IN = [
    sys.executable, "-c", "from feedscript.cli import main; main()",
    "stand-in", "--pty", "--arms-by-itself", "--format", "json",
]  # fmt: skip

VIEWERS = """
import asyncio, sys
from urllib.parse import urlsplit
import websockets
url, origin, *tokens = sys.argv[1:]
async def watch(token):
    token, page = token.split("/")
    headers = {"Cookie": f"feedscript_device_{urlsplit(url).port}={token}", "Feedscript-Page": page}
    async with websockets.connect(url, origin=origin, additional_headers=headers) as socket:
        async for _ in socket:
            pass
async def main():
    await asyncio.gather(*(watch(token) for token in tokens))
print("watching", flush=True)
asyncio.run(main())
"""


@contextmanager
def stand_in():
    process = subprocess.Popen(STAND_IN, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        lines = map(json.loads, process.stdout)
        yield next(line["address"] for line in lines if "address" in line)
    finally:
        process.terminate()
        process.wait()


@contextmanager
def viewers(served, count: int):
    """So many paired screens, in a process of their own."""
    if not count:
        yield
        return
    access = served.access
    paired = [access.pair(access.new_code(Role.VIEWER), f"screen {n}") for n in range(count)]
    tokens = [f"{one.token}/{one.page}" for one in paired]
    live = served.url.replace("http", "ws") + "/live"
    process = subprocess.Popen(
        [sys.executable, "-c", VIEWERS, live, served.url, *tokens], stdout=subprocess.PIPE
    )
    try:
        yield
    finally:
        process.kill()
        process.wait()


PHONE = """
import http.client, sys, time
place, cookie, key, count = *sys.argv[1:4], int(sys.argv[4])
for _ in range(count):
    began = time.perf_counter()
    page = http.client.HTTPConnection(place)
    headers = {"Cookie": cookie, "Feedscript-Page": key, "Origin": "http://" + place}
    page.request("POST", "/stop", b"{}", headers)
    answer = page.getresponse()
    answer.read()
    assert answer.status == 200, answer.status
    print(1000 * (time.perf_counter() - began), flush=True)
    page.close()
    time.sleep(0.05)
"""


async def stop_times_ms(served, count: int) -> np.ndarray:
    """Round trips of a stop that the launcher acknowledges each time, from a process of its own;
    each over a fresh connection, as of a page whose socket has just gone."""
    paired = served.access.pair(served.access.new_code(Role.VIEWER), "stopper")
    place = served.url.removeprefix("http://")
    words = [
        sys.executable,
        "-c",
        PHONE,
        place,
        f"{COOKIE}_{urlsplit(served.url).port}={paired.token}",
        paired.page,
        str(count),
    ]
    done = await anyio.run_process(words, stderr=None)
    return np.array([float(line) for line in done.stdout.split()])


async def one_run(
    beside: Callable[[Served], AbstractContextManager[None]], balls: int, stops: int
) -> tuple[np.ndarray, np.ndarray]:
    """A lesson, then stops, with something beside: how late each ball left, each stop took (ms)."""
    verdict = check_program(Path("benchmark.feed"), text=PROGRAM.format(balls=balls))
    assert verdict.plan is not None, [d.message for d in verdict.diagnostics]
    with tempfile.TemporaryDirectory() as folder, stand_in() as url:
        journal = open_journal(Path(folder) / "journal.sqlite")
        setting = Setting(source="benchmark", rehearsal=False, wall_utc_s=time.time())
        async with (
            connect_lesson(
                verdict.plan, verdict.profiles, Links(urls=(url,)), journal, setting
            ) as engine,
            serve(engine) as served,
            anyio.create_task_group() as group,
        ):
            group.start_soon(engine.run)
            group.start_soon(AutoOperator(engine).operate)
            with beside(served):
                while engine.view.balls_left < balls:
                    assert engine.view.phase is not Phase.STOPPED, engine.view.troubles
                    await anyio.sleep(0.1)
                assert engine.view.phase in (Phase.RUNNING, Phase.DISARMING, Phase.FINISHED)
                times = await stop_times_ms(served, stops)
            group.cancel_scope.cancel()
        rows = journal.rows(
            "SELECT leave_at_device_s AS planned, left_device_s AS left_at FROM ball"
            " WHERE outcome = 'left' ORDER BY feed_id"
        )
        journal.close()
    return np.array([1000 * (row["left_at"] - row["planned"]) for row in rows]), times


def told(name: str, values_ms: np.ndarray) -> str:
    median, high = np.percentile(np.abs(values_ms), [50, 99])
    return f"{name}: n {len(values_ms)}, median {median:.2f} ms, 99th percentile {high:.2f} ms"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--viewers", type=int, default=50)
    parser.add_argument("--balls", type=int, default=30)
    parser.add_argument("--stops", type=int, default=100)
    chosen = parser.parse_args()
    for count in (0, chosen.viewers):
        late, stops = anyio.run(one_run, partial(viewers, count=count), chosen.balls, chosen.stops)
        print(f"{count} viewers")
        print("  " + told("left, off its planned moment", late))
        print("  " + told("stop, page to launcher and back", stops))


if __name__ == "__main__":
    main()
