"""How far landings found in films are off: python -m tests.watch.fit.table --films 8"""

from __future__ import annotations

import argparse
import collections
import time

import numpy as np

from feedscript.diagnostics import Diagnostic
from feedscript.watch.fit.measured import Measured, NotSeen
from tests.watch.fit.filmed import WITHIN_95, Looked, looked_over
from tests.watch.scene.lens import PLACES
from tests.watch.scene.practices import LOOKS


def errors(looked: Looked) -> list[tuple[float, ...]]:
    """Of each ball found: landing off (m), inside its region, speed, top spin, bounce time off."""
    rows = []
    for ball, found in looked.pairs():
        off = np.subtract(found.landing_m, ball.landing_m)
        inside = off @ np.linalg.solve(np.array(found.covariance_m2), off) <= WITHIN_95
        launch = ball.flight.launch
        rows.append(
            (
                float(np.hypot(*off)),
                float(inside),
                found.speed_mps.value - launch.speed_mps,
                found.top_rpm.value - launch.top_rpm,
                1e3 * (found.bounce_s.value - ball.bounce.at_s),
            )
        )
    return rows


def tell(place: str, films: int, told: argparse.Namespace) -> None:
    rows, fed, false, why = [], 0, 0, collections.Counter()
    began = time.process_time()
    for seed in range(told.seed, told.seed + films):
        looked = looked_over(
            seed,
            place=place,
            look=told.look,
            balls=told.balls,
            size=(told.high * 16 // 9, told.high),
            busy=told.busy,
            exact=told.exact,
            rate_hz=told.rate,
            shake_px=told.shake,
            row_time_s=told.row_time,
            gap_s=2.6,
        )
        fed += told.balls
        if isinstance(looked, Diagnostic):
            why[looked.page.slug] += told.balls
            continue
        rows += errors(looked)
        false += sum(isinstance(one, Measured) for one in looked.of_phantoms)
        why.update(one.why.name for one in looked.of_feeds if isinstance(one, NotSeen))
    if not rows:
        print(place, "nothing found", dict(why), flush=True)
        return
    off, inside, speed, spin, bounce = np.array(rows).T
    print(
        f"| {place} | {told.look}{' busy' if told.busy else ''} | {told.high}p{told.rate:g} | {fed}"
        f" | {100 * len(off) / fed:.0f} % | {100 * np.median(off):.1f}"
        f" | {100 * np.quantile(off, 0.9):.1f} | {100 * off.max():.1f}"
        f" | {100 * inside.mean():.0f} %"
        f" | {speed.std():.2f} | {spin.std():.0f} | {np.abs(bounce).max():.1f} | {false}"
        f" | {dict(why) or ''} | {(time.process_time() - began) / fed:.1f} s |",
        flush=True,
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--films", type=int, default=4)
    asked.add_argument("--balls", type=int, default=6)
    asked.add_argument("--high", type=int, default=720)
    asked.add_argument("--rate", type=float, default=60.0)
    asked.add_argument("--look", choices=LOOKS, default="noon")
    asked.add_argument("--place", choices=PLACES, action="append")
    asked.add_argument("--shake", type=float, default=0.0)
    asked.add_argument("--row-time", type=float, default=0.0)
    asked.add_argument("--seed", type=int, default=100)
    asked.add_argument("--busy", action="store_true")
    asked.add_argument("--exact", action="store_true", help="the true camera")
    told = asked.parse_args()
    print(
        "| place | look | size | fed | measured | median cm | 90 % | worst | in 95 % region"
        " | speed sd m/s | top spin sd rpm | bounce worst ms | false | not measured | a ball |"
    )
    for place in told.place or PLACES:
        tell(place, told.films, told)


if __name__ == "__main__":
    main()
