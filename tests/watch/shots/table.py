"""How shots in films are told, film by film, into a file that only grows:

    nice -n 15 python -m tests.watch.shots.table --seed N --minutes 10
    python -m tests.watch.shots.told --write

Each run goes on where the file ends, which stands beside this one and is the tables' only source.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import cv2
import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic
from feedscript.watch.shots.seen import NoShot, Shot
from tests.watch.fit.table import CODE as CODE_OF_FEEDS
from tests.watch.fit.table import code_version
from tests.watch.scene.returns import Return
from tests.watch.shots.filmed import Seen, filmed

KEPT = Path(__file__).with_name("shots.jsonl")
#: What shots' figures hang on.
CODE = (*CODE_OF_FEEDS, "feedscript/watch/shots/*.py", "tests/watch/shots/filmed.py")
ENDS = ("in", "net", "long", "left", "right", "none")
PLACES = ("beside", "behind receiver", "behind launcher")


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """One fed ball: what the player made of it, and what was told of that; metres, m/s."""

    place: str
    seed: int
    number: int
    code: str
    true: str  # in, net, long, left, right; none: it was let go
    likeliest: str = ""
    sure: float = 0.0
    suggested: str = ""
    why: str = ""  # nothing is said of it
    off_m: tuple[float, float] | None = None
    covariance_m2: tuple[float, float, float] | None = None  # xx, xy, yy
    speed: tuple[float, float] = (0.0, 0.0)  # off, and its sd


def shots_of(place: str, seed: int, code: str) -> Iterator[Told]:
    """A film made and looked over: each way to end once, in an order of the seed's."""
    hits = tuple(np.random.default_rng((seed, 9)).permutation(ENDS).tolist())
    seen = filmed(seed, hits, place=place, busy=True, built=True)
    base = Told(place=place, seed=seed, number=0, code=code, true="")
    if isinstance(seen, Diagnostic):
        for number, true in enumerate(hits):
            why = seen.slug
            yield msgspec.structs.replace(base, number=number, true=true, why=why)
        return
    yield from told_of(seen, base)


def told_of(seen: Seen, base: Told) -> Iterator[Told]:
    """Of each ball of a film that was looked over."""
    for number, (hit, shot) in enumerate(zip(seen.hits, seen.shots(), strict=True)):
        true = "none" if hit is None else hit.outcome
        yield _told(hit, shot, msgspec.structs.replace(base, number=number, true=true))


def _told(hit: Return | None, shot: Shot | NoShot, base: Told) -> Told:
    if isinstance(shot, NoShot):
        return msgspec.structs.replace(base, why=shot.why.name)
    told = msgspec.structs.replace(
        base,
        likeliest=shot.likeliest.value,
        sure=shot.sure,
        suggested=shot.suggested.value if shot.suggested else "",
    )
    if hit is None:
        return told
    speed = (shot.speed_mps.value - hit.back.launch.speed_mps, shot.speed_mps.sd)
    told = msgspec.structs.replace(told, speed=speed)
    if hit.outcome == "net" or shot.landing_m is None or shot.covariance_m2 is None:
        return told
    x, y = np.subtract(shot.landing_m, hit.back.bounces()[0].place_m[:2]).tolist()
    (xx, xy), (_, yy) = shot.covariance_m2
    return msgspec.structs.replace(told, off_m=(x, y), covariance_m2=(xx, xy, yy))


def read(path: Path) -> list[Told]:
    if not path.exists():
        return []
    return [msgspec.json.decode(line, type=Told) for line in path.read_bytes().splitlines()]


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("path", type=Path, nargs="?", default=KEPT)
    asked.add_argument("--minutes", type=float, default=5.0)
    asked.add_argument("--place", action="append", choices=PLACES)
    asked.add_argument("--seed", type=int, required=True, help="of the first film")
    told = asked.parse_args()
    cv2.setNumThreads(1)
    code, until = code_version(CODE), time.monotonic() + 60 * told.minutes
    while time.monotonic() < until:
        films = {(one.place, one.seed) for one in read(told.path)}
        done = Counter(place for place, _ in films)
        place = min(told.place or PLACES, key=lambda each: done[each])
        taken = {seed for _, seed in films}
        seed = next(seed for seed in range(told.seed, 10**9) if seed not in taken)
        lines = [msgspec.json.encode(one) for one in shots_of(place, seed, code)]
        with told.path.open("ab") as out:
            out.write(b"\n".join([*lines, b""]))
        print(place, seed, flush=True)


if __name__ == "__main__":
    main()
