"""How far landings found in films are off, film by film, into a file that only grows:

    nice -n 15 python -m tests.watch.fit.table --minutes 10
    python -m tests.watch.fit.told --write

Each run goes on where the file ends, which stands beside this one and is the table's only source;
with ``--kind`` (as often as wanted) only some kinds of film. Films are numbered by their seeds: one
that is in the file is not made again.
"""

from __future__ import annotations

import argparse
import subprocess
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic
from feedscript.watch.fit.measured import Measured, NotSeen
from tests.watch.fit.filmed import PHANTOM, looked_over
from tests.watch.scene.practices import practice
from tests.watch.scene.truth import BallTruth

KEPT = Path(__file__).with_name("balls.jsonl")
#: What films and figures hang on.
CODE = (
    *(f"feedscript/watch/{part}/*.py" for part in ("camera", "fit", "ruler", "seek")),
    *(f"feedscript/watch/frames/{part}.py" for part in ("container", "upright", "video")),
    *(f"feedscript/flight/{part}.py" for part in ("air", "ball", "bounce", "launches", "models")),
    "feedscript/flight/motion/*.py",
    *("tests/watch/scene/*.py", "tests/watch/fit/filmed.py"),
)
BALLS = 8
GAP_S = 2.6
#: Feeds that nobody fed, one for so many that were.
NEVER_FED = 2


class Kind(msgspec.Struct, frozen=True, kw_only=True):
    """A kind of film, and how many of them are made before any kind gets more."""

    place: str = "behind receiver"
    look: str = "noon"
    high: int = 1080
    rate_hz: float = 60.0
    shake_px: float = 0.0
    row_time_s: float = 0.0
    codec: str = "jpeg"
    court: str = "full"
    exact: bool = False  # the true camera is known: what is left is the balls' own
    often: float = 1.0

    @property
    def name(self) -> str:
        words = [self.place, self.look, f"{self.high}p{self.rate_hz:g}"]
        words += [f"{self.court} court"] if self.court != "full" else []
        words += [f"shaken {self.shake_px:g} px"] if self.shake_px else []
        words += [f"rolling {1e3 * self.row_time_s * self.high:g} ms"] if self.row_time_s else []
        words += ["H.264"] if self.codec == "h264" else []
        return ", ".join(words + (["true camera"] if self.exact else []))


LIGHTS = ("clay", "green on green", "grass", "shadows", "low sun", "floodlit", "overcast")
KINDS = (
    Kind(often=6),
    *(Kind(look=look) for look in LIGHTS),
    *(Kind(place=place) for place in ("beside", "behind launcher", "corner")),
    Kind(high=720),
    Kind(rate_hz=30.0),
    Kind(rate_hz=120.0, often=0.5),
    Kind(high=720, rate_hz=240.0, often=0.5),
    Kind(shake_px=1.0, often=0.5),
    Kind(row_time_s=1.2e-5, often=0.5),
    Kind(codec="h264", often=0.5),
    *(Kind(court=court, often=0.5) for court in ("orange", "red")),
)


class Ball(msgspec.Struct, frozen=True, array_like=True):
    """One feed, and how far what was found of it is off: metres, m/s, rpm, ms."""

    number: int  # from PHANTOM on: nobody fed it
    why: str = ""  # it is not measured
    off_m: tuple[float, float] = (0.0, 0.0)
    covariance_m2: tuple[float, float, float] = (0.0, 0.0, 0.0)  # xx, xy, yy
    speed: tuple[float, float] = (0.0, 0.0)  # off, and its sd
    top: tuple[float, float] = (0.0, 0.0)
    side: tuple[float, float] = (0.0, 0.0)
    bounce: tuple[float, float] = (0.0, 0.0)
    pictures: int = 0

    @property
    def fed(self) -> bool:
        return self.number < PHANTOM


class Filmed(msgspec.Struct, frozen=True, kw_only=True):
    """One film, and what was made of its balls: a line of the file. ``code`` made and judged it."""

    kind: str
    seed: int
    code: str
    cpu_s: float = 0.0  # a ball
    balls: tuple[Ball, ...] = ()


def film_of(kind: Kind, seed: int, code: str, balls: int = BALLS) -> Filmed:
    """A film of so many balls made and looked over."""
    began = time.process_time()
    looked = looked_over(
        seed, exact=kind.exact, codec=kind.codec, phantom=NEVER_FED, **_scene(kind, balls)
    )
    cpu_s = (time.process_time() - began) / balls
    if isinstance(looked, Diagnostic):
        found = [Ball(number, looked.slug) for number in range(balls)]
    else:
        truths, every = looked.film.truth.balls, (*looked.of_feeds, *looked.of_phantoms)
        found = [ball_of(truths, one) for one in every]
    return Filmed(kind=kind.name, seed=seed, code=code, cpu_s=round(cpu_s, 2), balls=tuple(found))


def _scene(kind: Kind, balls: int) -> dict[str, Any]:
    return {
        "place": kind.place,
        "look": kind.look,
        "balls": balls,
        "size": (kind.high * 16 // 9, kind.high),
        "busy": True,
        "rate_hz": kind.rate_hz,
        "shake_px": kind.shake_px,
        "row_time_s": kind.row_time_s,
        "court": kind.court,
        "built": True,
        "gap_s": GAP_S,
    }


def why_not(kind: Kind, seed: int, balls: int = BALLS) -> str:
    """Why a film cannot be made with this seed: a place that no ball reaches, say; or nothing."""
    try:
        practice(seed, **_scene(kind, balls))
    except ValueError as trouble:
        return str(trouble)
    return ""


def ball_of(truths: Sequence[BallTruth], found: Measured | NotSeen) -> Ball:
    """What was found of a ball beside what was true of it."""
    if isinstance(found, NotSeen):
        return Ball(found.number, found.why.name)
    if found.number >= PHANTOM:
        return Ball(found.number)
    ball = truths[found.number]
    launch = ball.flight.launch
    (xx, xy), (_, yy) = found.covariance_m2
    x, y = np.subtract(found.landing_m, ball.landing_m).tolist()
    bounce_ms = 1e3 * (found.bounce_s.value - ball.bounce.at_s)
    return Ball(
        found.number,
        off_m=_short(x, y),
        covariance_m2=_short(xx, xy, yy),
        speed=_short(found.speed_mps.value - launch.speed_mps, found.speed_mps.sd),
        top=_short(found.top_rpm.value - launch.top_rpm, found.top_rpm.sd),
        side=_short(found.side_rpm.value - launch.side_rpm, found.side_rpm.sd),
        bounce=_short(bounce_ms, 1e3 * found.bounce_s.sd),
        pictures=found.seen,
    )


def _short(*values: float) -> tuple[float, ...]:
    """Rounded to what can matter: films of thousands of balls stay a small file."""
    return tuple(float(f"{value:.4g}") for value in values)


def read(path: Path) -> list[Filmed]:
    if not path.exists():
        return []
    return [msgspec.json.decode(line, type=Filmed) for line in path.read_bytes().splitlines()]


def add(path: Path, film: Filmed) -> None:
    line = msgspec.to_builtins(film)
    for ball in line["balls"]:
        if ball[1]:
            del ball[2:]  # it is not measured
    with path.open("ab") as out:
        out.write(msgspec.json.encode(line) + b"\n")


def code_version(code: Sequence[str] = CODE) -> str:
    """The last commit that changed anything that films or figures hang on."""
    told = [
        subprocess.run(["git", *words, "--", *code], capture_output=True, text=True, check=True)
        for words in (["log", "-1", "--format=%h"], ["status", "--porcelain"])
    ]
    commit, changed = (each.stdout.strip() for each in told)
    return f"{commit}-dirty" if changed else commit


def _next(done: Counter[str], kinds: list[Kind]) -> Kind:
    return min(kinds, key=lambda kind: (done[kind.name] + 0.5) / kind.often)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("path", type=Path, nargs="?", default=KEPT)
    asked.add_argument("--minutes", type=float, default=5.0)
    asked.add_argument("--kind", action="append", help="a part of the name of kinds of film")
    asked.add_argument("--seed", type=int, default=1000, help="of the first film")
    asked.add_argument("--balls", type=int, default=BALLS, help="of each film")
    asked.add_argument("--exact", action="store_true", help="the true camera")
    told = asked.parse_args()
    cv2.setNumThreads(1)
    kinds = [msgspec.structs.replace(kind, exact=told.exact) for kind in KINDS]
    if told.kind:
        kinds = [kind for kind in kinds if any(part in kind.name for part in told.kind)]
    code, until = code_version(), time.monotonic() + 60 * told.minutes
    not_made: set[int] = set()
    while time.monotonic() < until:
        films = read(told.path)
        kind = _next(Counter(film.kind for film in films), kinds)
        taken = not_made | {film.seed for film in films}
        seed = next(seed for seed in range(told.seed, 10**9) if seed not in taken)
        try:
            add(told.path, film_of(kind, seed, code, told.balls))
        except ValueError:
            if not (trouble := why_not(kind, seed, told.balls)):
                raise
            not_made.add(seed)
            print(kind.name, seed, "is not made:", trouble, flush=True)
        else:
            print(kind.name, seed, flush=True)


if __name__ == "__main__":
    main()
