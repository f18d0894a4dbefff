"""How long `feedscript check` takes as a whole process, beside importing what it needs.

Run by hand: `python tests/benchmarks/check.py [--rounds N] [--feeds N]`. Writes an invented program
of many feeds and one of a long hour with stations, checks each in a process of its own, and prints
the median ratio to processes, measured in between, that only import: the libraries that a check
uses; or these and all our modules that it uses. All keep to one thread, as the command does.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from feedscript.one_thread import ONE_THREAD

HEAD = """feedscript 1
title "Forty feeds"
court {{ surface hard  altitude 100 m  air 20 C }}
balls {{ type 2  load 80 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ {players} players  level club }}
"""

FEED = """feed f{index} {{
    land {depth:.2f} m inside baseline, {width:.2f} m inside {side} sideline
    speed {speed:.0f} km/h
    spin top {spin} rpm
}}
"""


def feeds(count: int) -> str:
    """That many different feeds."""
    return "".join(
        FEED.format(
            index=index,
            depth=1.5 + 0.05 * (index % 20),
            width=0.8 + 0.06 * (index % 17),
            side=("ad", "deuce")[index % 2],
            speed=86 + index % 9,
            spin=600 + 40 * (index % 15),
        )
        for index in range(count)
    )


def forty(count: int) -> str:
    """Every feed shown and sent, collected in between."""
    steps = []
    for start in range(0, count, 20):
        names = [f"f{index}" for index in range(start, min(start + 20, count))]
        steps += [f"    show speed of {name}" for name in names]
        steps += [f"    repeat 2 {{ send {name} after 6 s }}  rest 12 s" for name in names]
        steps.append("    collect")
    return HEAD.format(players=4) + feeds(count) + "lesson {\n" + "\n".join(steps) + "\n}\n"


STATIONS = """feedscript 1
title "An hour, three stations, twelve players"
court { surface hard  altitude 100 m  air 20 C }
balls { type 2 }
group { 12 players  level club }
"""

STAND = """launcher {name} {{
    profile "garage.toml"
    stands 1 m behind baseline, {place}
    load 80
}}
"""


def hour(count: int) -> str:
    """Three stations side by side on one court, each with its own lane."""
    lanes = {"west": "2.6 m deuce of centre mark", "mid": "on centre line",
             "east": "2.6 m ad of centre mark"}  # fmt: skip
    x_of = {"west": 2.6, "mid": 0.0, "east": -2.6}
    text = STATIONS + "".join(STAND.format(name=n, place=p) for n, p in lanes.items())
    names: dict[str, list[str]] = {name: [] for name in lanes}
    for index in range(count):
        lane = list(lanes)[index % 3]
        names[lane].append(f"f{index}")
        text += (
            f"feed f{index} {{ land at {x_of[lane]:.2f} m, {7.5 + 0.05 * (index % 40):.2f} m"
            f"  speed {80 + index % 9} km/h  spin top {500 + 20 * (index % 15)} rpm"
            f"  receiver at {x_of[lane]:.2f} m, 13 m }}\n"
        )
    shown = "".join(f"    show speed of {lane[0]}\n" for lane in names.values())
    body = "    together {\n"
    for lane, own in names.items():
        sends = "  ".join(f"send {name} after 8 s" for name in own)
        body += (
            f'        station "{lane}" on launcher {lane} {{ repeat 4 {{ {sends} rest 12 s }} }}\n'
        )
    body += "    }\n    collect\n"
    return text + "lesson {\n" + shown + body * 6 + "}\n"


#: With bytecode, as an installed program runs.
ENVIRONMENT = {
    key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"
} | ONE_THREAD
NEEDS = {
    "its libraries": "import numpy, click, msgspec, platformdirs",
    "all that it uses": "import numpy, feedscript.cli, feedscript.cli.prove.check",
}


def seconds(command: list[str]) -> tuple[float, float]:
    """Wall and processor seconds of one process."""
    before, start = children_s(), time.perf_counter()
    subprocess.run(command, capture_output=True, check=False, env=ENVIRONMENT)
    return time.perf_counter() - start, children_s() - before


def children_s() -> float:
    """Processor seconds of all processes that ended so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def measure(name: str, text: str, rounds: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "program.feed"
        path.write_text(text, encoding="utf-8")
        check = [sys.executable, "-m", "feedscript.cli", "check", str(path)]
        done = subprocess.run(check, capture_output=True, text=True, check=False, env=ENVIRONMENT)
        print(f"{name}: exit {done.returncode}, {(done.stdout or done.stderr).splitlines()[0]}")
        for line in done.stderr.splitlines()[:6]:
            print(f"    {line}")
        bases = [[sys.executable, "-c", line] for line in NEEDS.values()]
        taken = [[seconds(command) for command in (check, *bases)] for _ in range(rounds)]
    for index, kind in enumerate(("wall", "processor")):
        own, *others = ([one[index] * 1000 for one in each] for each in zip(*taken, strict=True))
        print(f"    {kind}: {statistics.median(own):.0f} ms (least {min(own):.0f})")
        for needs, beside in zip(NEEDS, others, strict=True):
            ratio = statistics.median(a / b for a, b in zip(own, beside, strict=True))
            print(f"        {needs}: {statistics.median(beside):.0f} ms, ratio {ratio:.2f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--feeds", type=int, default=40)
    options = parser.parse_args()
    measure(f"{options.feeds} feeds", forty(options.feeds), options.rounds)
    measure(f"hour of {options.feeds} feeds, 3 stations, 12 players", hour(options.feeds),
            options.rounds)  # fmt: skip


if __name__ == "__main__":
    main()
