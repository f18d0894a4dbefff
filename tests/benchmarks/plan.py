"""How compiling, bounds and pairs grow with the steps of a program. Run by hand.

Programs of 1,000, 10,000 and 50,000 steps over 40 feeds, a quarter of them in repeats, choices and
conditions. Printed: milliseconds for each part, microseconds a step, and the pairs found.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

from feedscript.language import read
from feedscript.language.resolve.loading import load_beside
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.compile import compile_program
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.folds.pairs import pairs
from feedscript.shipped import shipped_folder

T = TypeVar("T")
FEEDS = 40


def program_of(steps: int) -> str:
    """A program with so many steps in its lesson."""
    chance = random.Random(steps)
    lines = ["feedscript 1", "group { 12 players }"]
    for number in range(FEEDS):
        depth, side = 1.0 + number % 5 * 0.5, 1.0 + number % 7 * 0.4
        lines.append(
            f"feed f{number} {{ land {depth:g} m inside baseline, {side:g} m inside ad sideline  "
            f"speed {78 + number % 9} km/h }}"
        )
    lines.append("lesson {")
    written = 0
    while written < steps:
        one, other = (f"send f{chance.randrange(FEEDS)} after 4 s" for _ in range(2))
        shape = chance.randrange(12)
        if shape == 0:
            lines.append(f"repeat 3 {{ {one} {other} }}")
        elif shape == 1:
            lines.append(f"choose {{ 1: {one} 2: {other} }}")
        elif shape == 2:
            lines.append(f"when 2 in a row in {{ {one} }} otherwise {{ {other} }}")
        else:
            lines += [one, other]
        written += 2 if shape > 2 else 3
    lines.append("}")
    return "\n".join(lines) + "\n"


def timed(work: Callable[[], T]) -> tuple[T, float]:
    """The result of the work and the best of three times, in milliseconds."""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        result = work()
        times.append((time.perf_counter() - start) * 1000)
    return result, min(times)


def measure(steps: int, profile: Profile) -> str:
    """One line of the table."""
    load = load_beside(Path("x.feed"), shipped_folder())
    program, found = read(program_of(steps), "x.feed", load=load)
    assert program is not None, found[:3]
    compiled, compile_ms = timed(partial(compile_program, program, [profile], ["garage.toml"]))
    plan = compiled.plan
    assert plan is not None
    _, bounds_ms = timed(partial(bounds, plan))
    met, pairs_ms = timed(partial(pairs, plan))
    _, write_ms = timed(partial(canonical_bytes, plan))
    each = (compile_ms + pairs_ms) * 1000 / steps
    figures = (compile_ms, bounds_ms, pairs_ms, write_ms)
    return f"{steps:>8}" + "".join(f"{f:>10.1f}" for f in figures) + f"{each:>10.2f}{len(met):>8}"


def main() -> None:
    profile = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
    assert profile is not None
    heads = ("compile", "bounds", "pairs", "write", "us/step")
    print(f"{'steps':>8}" + "".join(f"{head:>10}" for head in heads) + f"{'pairs':>8}")
    for steps in (1_000, 10_000, 50_000):
        print(measure(steps, profile))


if __name__ == "__main__":
    main()
