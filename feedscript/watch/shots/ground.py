"""Where a shot ended: net, long, left, right, in court, in the target."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.court.lines import Court
from feedscript.flight.models import Array
from feedscript.plan.model import Result, Target


class Ground(msgspec.Struct, frozen=True):
    """What a shot is held against: the court, and what this player aims at, if anything."""

    court: Court
    target: Target | None = None
    left_handed: bool = False


def ended(place_m: tuple[float, float], ground: Ground, radius_m: float) -> Result:
    """Of a ball that passed the net. One that touches a line is in (ITF Rules of Tennis, Rule 12).

    Behind the baseline it is long, however far aside; left and right are the player's, who looks
    at the net.
    """
    x_m, y_m = place_m
    court = ground.court
    if y_m < -court.half_length_m - radius_m:
        return Result.LONG
    if abs(x_m) > court.half_width_m + radius_m:
        return Result.LEFT if x_m > 0 else Result.RIGHT
    target = ground.target
    if target is not None and target.holds(place_m, left=ground.left_handed):
        return Result.TARGET
    return Result.IN


def odds(places_m: Array, ground: Ground, radius_m: float) -> dict[Result, float]:
    """Which share of shots ended how that came down there, (n, 2); NaN: they did not pass the
    net."""
    found: dict[Result, int] = {}
    for x, y in places_m.tolist():
        passed = np.isfinite(x) and y < 0
        one = ended((x, y), ground, radius_m) if passed else Result.NET
        found[one] = found.get(one, 0) + 1
    return {one: count / len(places_m) for one, count in found.items()}
