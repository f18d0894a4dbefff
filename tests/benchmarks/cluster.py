"""What drawing on a cluster of this machine's costs, against one process without one.

Run by hand: `python tests/benchmarks/cluster.py [--balls N] [--workers 1 2] [--no-alone]
[--helpers 1] [--by-chance]`. Draws runs of an invented hour until so many balls have flown: in this
process alone (unless it is left out, which saves a while with many balls), then with helpers on
this machine's other cores where their number is given, then by each number of workers. Prints
the time by the clock (the cluster's start apart), the processor's time of all processes, the
efficiency against the first number of workers by the clock and by the processor (which other
programs on the machine change little), and whether the results are equal to the last byte.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from pathlib import Path

from feedscript.check.as_json import sample_json
from feedscript.check.check_program import check_program
from feedscript.check.in_pieces.at_worker import DRAWS
from feedscript.check.in_pieces.cluster import LOCAL, Wanted, cluster
from feedscript.check.in_pieces.cores import shared
from feedscript.check.in_pieces.work import Workers
from feedscript.check.sample import sample
from feedscript.plan.canonical import canonical_bytes
from feedscript.safety.analysis.plan_facts import PlanFacts

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
#: In place of the balls of a series, for ``--by-chance``.
SENT = "send deep after 5 s  send wide after 5 s"
BY_CHANCE = """choose { 2: send deep after 5 s  1: send wide after 5 s }
    shuffle { send deep after 5 s  send wide after 5 s vary 1 s }"""


def main() -> None:
    """Draw alone and on clusters, print the figures."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--balls", type=int, default=1_000_000)
    asked.add_argument("--workers", type=int, nargs="*", default=[1, 2])
    asked.add_argument("--no-alone", action="store_true")
    asked.add_argument("--helpers", type=int)
    asked.add_argument("--by-chance", action="store_true")
    options = asked.parse_args()
    facts = an_hour(PROGRAM.replace(SENT, BY_CHANCE) if options.by_chance else PROGRAM)
    runs = -(-options.balls // facts.plan.bounds.balls[0])
    known = None if options.no_alone else drawn("alone", facts, runs, None)
    if options.helpers is not None:
        with shared(options.helpers) as helped:
            result, _ = drawn(f"{options.helpers} helpers", facts, runs, helped)
        print(f"  the same bytes: {known is None or result == known[0]}", flush=True)
    first = None
    for count in options.workers:
        before, begun = processor_s(), time.monotonic()
        with cluster(Wanted(LOCAL, workers=count), DRAWS) as workers:
            print(f"{count} workers are there after {time.monotonic() - begun:.1f} s", flush=True)
            result, clock_s = drawn(f"{count} workers", facts, runs, workers)
        used_s = processor_s() - before
        print(f"  processor, all processes, start and end too: {used_s:.1f} s")
        first = first or (count, clock_s, used_s)
        by_clock = first[0] * first[1] / (count * clock_s)
        print(f"  efficiency by the clock {by_clock:.2f}, by the processor {first[2] / used_s:.2f}")
        if known is not None:
            print(f"  against the first by the clock: {clock_s / known[1]:.2f} times")
            print(f"  the same bytes: {result == known[0]}", flush=True)
        known = known or (result, clock_s)


def an_hour(program: str) -> PlanFacts:
    """The invented hour, checked."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "hour.feed"
        path.write_text(program, encoding="utf-8")
        facts = check_program(path).facts
    assert facts is not None
    return facts


def drawn(who: str, facts: PlanFacts, runs: int, workers: Workers | None) -> tuple[bytes, float]:
    """The result as bytes, and how long it took by the clock."""
    before, begun = processor_s(), time.monotonic()
    found = sample(facts, runs, 1, workers)
    clock_s = time.monotonic() - begun
    print(f"{who}: {found.balls:,} balls of {runs:,} runs in {clock_s:.1f} s by the clock, "
          f"{processor_s() - before:.1f} s of this process's processor", flush=True)  # fmt: skip
    return canonical_bytes(sample_json(found)), clock_s


def processor_s() -> float:
    """Processor time of this process and of those of its children that have ended."""
    each = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in each)


if __name__ == "__main__":
    main()
