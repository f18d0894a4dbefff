"""Corridors held against areas on the ground: keep-outs, neighbouring courts, other players."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import msgspec
import numpy as np

from feedscript.plan.scene import PERSON_M, Area
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding
from feedscript.safety.hazards.gaps import NEAR_M, clearance_m
from feedscript.units import apart

#: Ground around a person or a launcher, half its side.
HALF_SQUARE_M = 1.0


def square(name: str, middle_m: tuple[float, float], line: int) -> Area:
    """The square of ground where somebody stands, as high as a person with a raised arm."""
    (x, y), r = middle_m, HALF_SQUARE_M
    outline = ((x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r))
    return Area(name=name, outline_m=outline, height_m=PERSON_M, line=line)


def outside_m(outline_m: Sequence[tuple[float, float]], place_m: tuple[float, float]) -> float:
    """How far a place lies outside an area's nearest edge, in m; negative inside.

    Of an area that bulges inwards its widest lines count; past a corner the distance is a little
    more than said.
    """
    corners = np.array(outline_m)
    edges = np.roll(corners, -1, axis=0) - corners
    normals = np.stack([edges[:, 1], -edges[:, 0]], axis=-1)
    lengths = np.hypot(*normals.T)
    normals = normals[lengths > 0] / lengths[lengths > 0, None]
    # Outwards, whichever way round the outline goes.
    normals *= np.sign(np.sum(normals * (corners[lengths > 0] - corners.mean(axis=0)), axis=1))[
        :, None
    ]
    return float(np.max(normals @ np.array(place_m) - (normals @ corners.T).max(axis=1)))


class Stay(msgspec.Struct, frozen=True):
    """One feed that must stay out of one area; ``what`` says what the area is."""

    feed: int
    area: Area
    what: str


def _gaps(facts: PlanFacts, stays: Sequence[Stay], limit: float) -> Iterator[float]:
    """How far each feed stays from its area, as closely as it matters for the nearest of all and
    for those that are nearer than the limit."""
    enough_m = NEAR_M
    for stay in stays:
        outline = np.array(stay.area.outline_m)
        # An area without a height is closed at any height.
        height = math.inf if stay.area.height_m is None else stay.area.height_m
        gap = clearance_m(facts.envelopes[stay.feed], outline, height, enough_m, facts.memo)
        enough_m = min(enough_m, max(limit, gap))
        yield gap


def _measurement(facts: PlanFacts, stay: Stay, gap: float, limit: float) -> Measurement:
    feed = facts.plan.feeds[stay.feed]
    place = f"the {stay.what} {stay.area.name}"
    passes, kept = apart(gap, limit, 2)
    if gap < 0:
        how = f"enters {place} by {-gap:.2f} m"
    elif math.isinf(gap):
        how = f"never comes down to the height of {place}"
    else:
        how = f"passes {place} at {passes} m"
    return Measurement(
        value=gap,
        limit=limit,
        margin=gap - limit,
        unit="m",
        words=f"{feed.name} {how}",
        message=f"{feed.name} {how} at {facts.sigma:g} sigma; {kept} m is kept",
        help=f"move the landing or the launcher {limit - gap:.2f} m away from it, or the area",
        feed=stay.feed,
        part="land",
    )


def measured_stays(facts: PlanFacts, stays: Sequence[Stay], limit: float) -> list[Measurement]:
    """How each feed stays clear of its area, the nearest as closely as it matters."""
    gaps = zip(stays, _gaps(facts, stays, limit), strict=True)
    return [_measurement(facts, stay, gap, limit) for stay, gap in gaps]


def stay_clear(facts: PlanFacts, stays: Sequence[Stay], limit: float, silent: str) -> Finding:
    """The finding over all pairs of feed and area; ``silent`` says why there are none."""
    return finding(measured_stays(facts, stays, limit), silent)
