"""How the time of a check grows with the steps of a program, and with its feeds.

Run by hand: `python tests/benchmarks/check_growth.py`. Each program is examined in this process (so
without start-up) a few times; the least processor time counts, the collector off, as it would
otherwise count everything that earlier programs left.
"""

from __future__ import annotations

import gc
import time
from pathlib import Path

from feedscript.check.check_program import check_program
from feedscript.plan.folds.pairs import pairs

HEAD = """feedscript 1
title "Growth"
court { surface hard }
balls { type 2  load 80 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  level club }
"""


def program(steps: int, feeds: int) -> str:
    """So many sends of so many feeds in turn, a collect after each thirty."""
    lines = [HEAD]
    for index in range(feeds):
        lines.append(
            f"feed f{index} {{ land {1.5 + 0.001 * index:.3f} m inside baseline, on centre line"
            f"  speed {82 + index % 5} km/h  spin top {600 + index % 7 * 20} rpm }}\n"
        )
    lines.append("lesson {\n    show speed of f0\n")
    for step in range(steps):
        lines.append(f"    send f{step % feeds} after 6 s\n")
        if step % 30 == 29:
            lines.append("    rest 12 s\n    collect\n")
    return "".join([*lines, "}\n"])


def measured(text: str, rounds: int = 3) -> tuple[float, int]:
    """Least processor seconds of an examination, and the pairs there are."""
    best, count = float("inf"), 0
    for _ in range(rounds):
        gc.collect()
        gc.disable()
        start = time.process_time()
        verdict = check_program(Path("growth.feed"), text=text)
        best = min(best, time.process_time() - start)
        gc.enable()
        assert verdict.ok, [one.message for one in verdict.diagnostics][:3]
        assert verdict.plan is not None
        count = len(pairs(verdict.plan))
    return best, count


def main() -> None:
    check_program(Path("warm.feed"), text=program(10, 3))
    print("   steps   feeds   pairs   seconds   ms per (step + pair)")
    for steps, feeds in (
        (100, 40), (1_000, 40), (3_000, 40), (10_000, 40), (30_000, 40),
        (2_000, 10), (2_000, 100), (2_000, 1_000),
    ):  # fmt: skip
        seconds, met = measured(program(steps, feeds))
        each = 1000 * seconds / (steps + met)
        print(f"{steps:8} {feeds:7} {met:7} {seconds:9.3f} {each:12.3f}")


if __name__ == "__main__":
    main()
