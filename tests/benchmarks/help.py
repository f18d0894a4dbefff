"""What ``feedscript --help`` and ``--version`` cost as whole processes, beside a bare
interpreter: the clock, and the processor.

``python tests/benchmarks/help.py [--times N]``
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import time

COMMANDS = {
    "an interpreter": ["-c", "pass"],
    "--version": ["-m", "feedscript.cli", "--version"],
    "--help": ["-m", "feedscript.cli", "--help"],
    "check --help": ["-m", "feedscript.cli", "check", "--help"],
}


def once(words: list[str]) -> tuple[float, float]:
    """Seconds by the clock and of the processor."""
    began_s, before = time.perf_counter(), os.times()
    subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)
    after = os.times()
    used_s = after.children_user + after.children_system
    used_s -= before.children_user + before.children_system
    return time.perf_counter() - began_s, used_s


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--times", type=int, default=10)
    times = parser.parse_args().times
    for name, words in COMMANDS.items():
        took, used = zip(*(once(words) for _ in range(times)), strict=True)
        print(
            f"{name:<15} {min(took):.3f} s at best, median {statistics.median(took):.3f} s; "
            f"processor {min(used):.2f} s"
        )


if __name__ == "__main__":
    main()
