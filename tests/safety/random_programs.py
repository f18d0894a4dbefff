"""Programs of one feed, drawn at random over everything that launchers and weather can do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from feedscript.check.check_program import Verdict, check_program
from feedscript.launcher.profile.model import Kind

LAUNCHERS = {
    "garage": (-2500.0, 3000.0),
    "stepping-head": (-2300.0, 2800.0),
    "turning-head": (-3500.0, 3500.0),
    "three-wheels": (-3000.0, 3000.0),
    "single-wheel": None,
    "air-barrel": None,
    "timed-valve": None,
    "throwing-arm": None,
    "notched-spring": None,
    "unequal-wheels": (-2000.0, 4000.0),
}
SIDES = {"turning-head": 3000.0, "three-wheels": 3000.0}
assert len(LAUNCHERS) > len(Kind)
SURFACES = ("hard", "clay", "carpet", "grass", None)
BALLS = ("type 1", "type 2", "type 3", "stage green", "stage orange")


@dataclass(frozen=True)
class Drawn:
    """A program and what the checker says of it."""

    text: str
    verdict: Verdict


def accepted(seed: Sequence[int]) -> Iterator[Drawn]:
    """Programs that pass, without end; the same for the same seed."""
    random = np.random.default_rng(seed)
    while True:
        text = program(random)
        verdict = check_program(Path("drawn.feed"), text=text)
        if verdict.ok:
            yield Drawn(text, verdict)


def program(random: np.random.Generator) -> str:
    """One program, in the language; half of those drawn are refused for good reasons."""
    name = str(random.choice(list(LAUNCHERS)))
    surface = random.choice(np.array(SURFACES, dtype=object))
    court = [f"surface {surface}"] if surface else []
    court.append(f"altitude {random.uniform(0, 2500):.0f} m  air {random.uniform(5, 30):.0f} C")
    if random.random() < 0.8:
        way = [str(random.choice(["head", "tail"])), str(random.choice(["ad", "deuce"]))]
        court.append(", ".join(
            ("wind " if not n else "") + f"{one} {random.uniform(0, 7):.1f} m/s"
            for n, one in enumerate(way)
        ))  # fmt: skip
    behind = f"{random.uniform(0.0, 4.0):.2f} m {random.choice(['behind', 'inside'])} baseline"
    beside = f"{random.uniform(0.0, 3.0):.2f} m {random.choice(['ad', 'deuce'])} of centre mark"
    return "\n".join(
        [
            "feedscript 1",
            'title "Drawn"',
            f"court {{ {'  '.join(court)} }}",
            f"balls {{ {random.choice(BALLS)}  load 20 }}",
            f'launcher {{ profile "{name}.toml"  stands {behind}, {beside} }}',
            "group { 2 players  level touring }",
            f"feed one {{ {_feed(name, random)} }}",
            "lesson { show speed of one  send one after 12 s }",
        ]
    )


def _feed(name: str, random: np.random.Generator) -> str:
    parts = [f"land at {random.uniform(-3.8, 3.8):.2f} m, {random.uniform(2.5, 11.5):.2f} m"]
    kind = random.random()
    if kind < 0.5:
        parts.append(f"apex {random.uniform(2.0, 10.0):.2f} m")
    else:
        high = random.random() < 0.4
        parts.append(f"speed {random.uniform(14.0, 20.0 if high else 33.0):.1f} m/s")
        parts += ["arc high"] if high else []
    spins = LAUNCHERS[name]
    if spins is not None:
        least, most = spins
        ends = random.random() < 0.3  # a good part at the very limits
        top = random.choice([least, most]) if ends else random.uniform(least, most)
        words = [f"back {-top:.0f} rpm" if top < 0 else f"top {top:.0f} rpm"]
        if name in SIDES and random.random() < 0.6:
            side = random.uniform(-1.0, 1.0) * SIDES[name]
            words.append(f"side {'deuce' if side < 0 else 'ad'} {abs(side):.0f} rpm")
        parts.append("spin " + ", ".join(words))
    return "  ".join(parts)
