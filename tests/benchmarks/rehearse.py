"""How long `feedscript rehearse` takes for an hour on court, as a whole process.

Run by hand: `python tests/benchmarks/rehearse.py [--rounds N]`. Writes an invented program of nine
series of 60 balls with a collect after each, rehearses it in a process of its own, and prints the
median beside the least and the most, with the lesson's length and its balls.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

PROGRAM = """feedscript 1
title "An hour"
court { surface hard }
balls { type 2  load 70 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  level club }
feed deep {
    land 3 m inside baseline, 1.5 m inside ad sideline  speed 85 km/h  spin top 900 rpm
}
feed wide = deep with { land 3 m inside baseline, 1.5 m inside deuce sideline }
pattern series() {
    repeat 3 { repeat 10 { send deep after 5 s  send wide after 5 s } rest 20 s }
    collect
}
lesson { show speed of deep  repeat 9 { series() } }
"""


def main() -> None:
    """Rehearse, print the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=5)
    rounds = asked.parse_args().rounds
    with tempfile.TemporaryDirectory() as folder:
        program = Path(folder) / "hour.feed"
        program.write_text(PROGRAM, encoding="utf-8")
        verb = ["rehearse", str(program), "--format", "json"]
        taken = []
        for _ in range(rounds):
            began = time.perf_counter()
            told = subprocess.run(
                [sys.executable, "-m", "feedscript.cli", *verb], check=True, capture_output=True
            )
            taken.append(time.perf_counter() - began)
    rehearsed = json.loads(told.stdout)
    print(f"{len(rehearsed['balls'])} balls over {rehearsed['lesson_s'] / 60:.0f} minutes")
    print(
        f"the whole process: median {statistics.median(taken):.2f} s "
        f"({min(taken):.2f} to {max(taken):.2f})"
    )


if __name__ == "__main__":
    main()
