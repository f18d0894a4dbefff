"""What it costs to check many programs in one process: 200 lessons, no two alike.

Run by hand: `python tests/benchmarks/check_many.py [--dearest N]`. The lessons are invented: one to
four feeds with places, speeds and spins of their own, a group of one to six, turns and a collect.
Processor time of this process, the collector on, after one check to warm up; one memo for all, as
`feedscript check FOLDER` has it. `--dearest` also shows the functions that take the most time of
their own.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import random
import statistics
import time
from pathlib import Path

from feedscript.check.check_program import check_program
from feedscript.memo import Memo

PROGRAMS, WANTED_MS = 200, 15.0


def program(seed: int) -> str:
    """An invented lesson."""
    dice = random.Random(seed)
    names = [f"feed_{number}" for number in range(dice.randint(1, 4))]
    lines = [
        "feedscript 1",
        f'title "Lesson {seed}"',
        "court { surface hard }",
        "balls { type 2  load 80 }",
        'launcher { profile "garage.toml"  stands 1 m behind centre mark }',
        f"group {{ {dice.randint(1, 6)} players  level club }}",
    ]
    for name in names:
        lines.append(
            f"feed {name} {{ land {dice.uniform(1.5, 3.0):.2f} m inside baseline, "
            f"{dice.uniform(1.0, 2.0):.2f} m inside {dice.choice(('ad', 'deuce'))} sideline"
            f"  speed {dice.uniform(70, 90):.1f} km/h  spin top {dice.randint(200, 1200)} rpm }}"
        )
    lines += ["lesson {", f"    show speed of {names[0]}", f"    repeat {dice.randint(2, 9)} {{"]
    lines += [f"        send {name} after {dice.uniform(6, 9):.1f} s" for name in names]
    lines += ["    }", "    rest 12 s", "    collect", f"    send {names[-1]} after 8 s", "}"]
    return "\n".join(lines) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--dearest", type=int, default=0)
    asked = parser.parse_args()
    texts = [program(seed) for seed in range(PROGRAMS)]
    check_program(Path("warm.feed"), text=program(PROGRAMS))
    profile = cProfile.Profile()
    took, passed, memo = [], 0, Memo()
    for number, text in enumerate(texts):
        start = time.process_time()
        if asked.dearest:
            profile.enable()
        verdict = check_program(Path(f"{number}.feed"), text=text, memo=memo)
        profile.disable()
        took.append(1000 * (time.process_time() - start))
        passed += verdict.ok
    took.sort()
    print(f"{PROGRAMS} programs, {passed} pass; ms each, wanted {WANTED_MS:g}:")
    print(
        f"  mean {statistics.mean(took):.1f}   median {statistics.median(took):.1f}"
        f"   95th {took[int(0.95 * len(took))]:.1f}   most {took[-1]:.1f}"
    )
    if asked.dearest:
        pstats.Stats(profile).sort_stats("tottime").print_stats(asked.dearest)


if __name__ == "__main__":
    main()
