"""Fixes that are worked out: the nearest speed, or mouth, at which a feed keeps a limit.

What is offered was flown and judged like the feed itself, within what its launcher can do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec
import numpy as np

from feedscript.flight.aim.aiming import Aims, aim
from feedscript.flight.aim.targets import Targets
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.plan_facts import PlanFacts

#: So many breaches of one rule get a fix of their own; after one is fixed the next is asked for.
MOST_FIXES = 4
_SPEEDS = 48
#: How much higher a mouth is looked for, in so many steps. A stand of a metre is easily built.
_RAISED_M = 1.0
_STEPS = 20

Good = Callable[[PlanFacts, int], bool]


def speeds_that_fix(facts: PlanFacts, broken: Sequence[int], good: Good) -> dict[int, str]:
    """For the first few broken feeds, by index, what to write for a speed that fixes each."""
    found = {index: speed_for(facts, index, good) for index in broken[:MOST_FIXES]}
    return {
        index: f"`speed {speed * 3.6:.1f} km/h`"
        for index, speed in found.items()
        if speed is not None
    }


def mouths_that_fix(facts: PlanFacts, broken: Sequence[int], good: Good) -> dict[int, str]:
    """For the first few broken feeds, by index, what to write for a mouth that fixes each."""
    found = {index: mouth_for(facts, index, good) for index in broken[:MOST_FIXES]}
    return {
        index: f"`mouth {mouth:.2f} m` in `launcher`"
        for index, mouth in found.items()
        if mouth is not None
    }


def speed_for(facts: PlanFacts, index: int, good: Good) -> float | None:
    """The speed in m/s nearest to the feed's at which it lands at its place and is good."""
    feed = facts.plan.feeds[index]
    limits = facts.profile(feed).limits
    tenths = np.linspace(limits.speed_mps.least, limits.speed_mps.most, _SPEEDS) * 36
    speeds = np.unique(np.round(tenths)) / 36  # as they can be written: tenths of km/h
    mouths = [facts.plan.launchers[feed.launcher].mouth_m] * len(speeds)
    found = _good_ones(facts, feed, speeds, mouths, good)
    return min(
        (one.speed_mps for one in found),
        key=lambda speed: abs(speed - feed.speed_mps),
        default=None,
    )


def mouth_for(facts: PlanFacts, index: int, good: Good) -> float | None:
    """The least height of a mouth above the feed's at which it lands at its place and is good."""
    feed = facts.plan.feeds[index]
    x_m, y_m, z_m = facts.plan.launchers[feed.launcher].mouth_m
    heights = z_m + _RAISED_M * np.arange(1, _STEPS + 1) / _STEPS
    mouths = [(x_m, y_m, float(round(height, 2))) for height in heights]
    speeds = np.full(_STEPS, feed.speed_mps)
    found = _good_ones(facts, feed, speeds, mouths, good)
    return min((mouths[one.launcher][2] for one in found), default=None)


def _good_ones(
    facts: PlanFacts,
    feed: AimedFeed,
    speeds: np.ndarray[tuple[int], np.dtype[np.float64]],
    mouths: Sequence[tuple[float, float, float]],
    good: Good,
) -> list[AimedFeed]:
    """The feed thrown at these speeds from these mouths, where it can be and is good."""
    plan, profile = facts.plan, facts.profile(feed)
    x_m, y_m, z_m = np.array(mouths).T
    targets = Targets.of(
        feed.landing_m[0],
        feed.landing_m[1],
        speeds,
        top_rpm=feed.top_rpm,
        side_rpm=feed.side_rpm,
        mouth_x_m=x_m,
        mouth_y_m=y_m,
        mouth_z_m=z_m,
    )
    allowed = profile.limits.elevation_deg
    aims = aim(
        targets,
        conditions_for(plan.court, plan.balls, profile),
        elevations_deg=(allowed.least, allowed.most),
        seek_speed=False,
    )
    placed = plan.launchers[feed.launcher]
    others = tuple(msgspec.structs.replace(placed, mouth_m=mouth) for mouth in mouths)
    feeds = tuple(_thrown(feed, aims, lane) for lane in range(len(mouths)))
    changed = msgspec.structs.replace(plan, feeds=feeds, launchers=others, steps=())
    tried = PlanFacts(changed, (profile,) * len(mouths))
    return [one for lane, one in enumerate(feeds) if aims.reachable[lane] and good(tried, lane)]


def _thrown(feed: AimedFeed, aims: Aims, lane: int) -> AimedFeed:
    return msgspec.structs.replace(
        feed,
        launcher=lane,
        speed_mps=float(aims.launches.speed_mps[lane]),
        elevation_deg=float(aims.elevation_deg[lane]),
        azimuth_deg=float(aims.azimuth_deg[lane]),
    )
