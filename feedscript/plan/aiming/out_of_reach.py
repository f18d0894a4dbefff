"""The diagnostic for a feed that no throw of its launcher can make, with fixes that were tried.

A fix is a change to the feed's own words. Each is aimed as the program would be and held against
the launcher's limits and the net before it is offered.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.able import able
from feedscript.plan.aiming.between_steps import between_steps
from feedscript.plan.aiming.flying import UNKNOWN_BOUNCE
from feedscript.plan.aiming.net_room import net_room_m
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import BetweenSteps, Miss, NoBounce, Outside, Solved, Stand
from feedscript.plan.aiming.solving import by_speed, kind, solve
from feedscript.plan.aiming.stepping import balls_for

OUT_OF_REACH = Page(
    slug="out-of-reach",
    title="A feed that cannot reach its place",
    why="""A feed says where the ball lands and how fast it leaves. From a given mouth height, speed
and spin there is a farthest place that any elevation reaches, and for a fast ball a nearest one. A
place outside is out of reach: the message says by how much, and the fix gives a speed, an arc or a
place that brings it in. Each was flown as the feeds are, pointed no further up or down than the
launcher can, before it was offered.""",
    wrong="""feedscript 1
feed floater { land 1 m inside baseline, on centre line  speed 30 km/h }
lesson { show speed of floater  send floater after 5 s }
""",
    corrected="""feedscript 1
feed floater { land 1 m inside baseline, on centre line  speed 66 km/h }
lesson { show speed of floater  send floater after 5 s }
""",
)


#: Nobody wants a feed nearer to the net than this: no place there is suggested.
_SHORTEST_M = 1.5
#: What a fixed feed clears the net by with its scatter: twice what the rules ask; design value.
_OVER_NET_M = 0.2
#: Speeds, or heights or times, that are tried between the least and the most.
_TRIED = 9
_VERBS = {"apex": "rise to", "flight": "be in the air for", "contact": "be met at"}
_UNITS = {"apex": "m", "flight": "s", "contact": "m"}


def why_not(solved: Solved, stand: Stand) -> Diagnostic:
    """Why a shot missed, by how much, and which changes bring it in."""
    missed = solved.missed
    if isinstance(missed, Miss):
        return _misses(solved, missed, stand)
    if isinstance(missed, Outside):
        return _outside(solved, missed, stand)
    if isinstance(missed, BetweenSteps):
        return between_steps(solved.shot, missed, _step_that_will_do(solved, missed, stand))
    assert isinstance(missed, NoBounce)
    wish = solved.shot.wish
    return UNKNOWN_BOUNCE.report(
        f"`{wish.name}` is given by its contact point, and {missed.why}",
        help="write `surface hard` (or clay, grass, carpet) in `court`",
        span=wish.spans.get("contact", wish.span),
    )


def _misses(solved: Solved, miss: Miss, stand: Stand) -> Diagnostic:
    way = "short of" if miss.short_m > 0 else "past"
    wish = solved.shot.wish
    fixes = _fixes(solved, miss, stand)
    return OUT_OF_REACH.report(
        f"`{wish.name}` lands at best {abs(miss.short_m):.2f} m {way} its place at "
        f"{_speed(miss.speed_mps)}, {_pointed(stand)}",
        help="; or ".join(fixes)
        or "move the launcher: no speed of it and no place on that line were found that would do",
        span=wish.spans.get("speed", wish.span),
    )


def _step_that_will_do(solved: Solved, missed: BetweenSteps, stand: Stand) -> float | None:
    """Of what the steps give, what is nearest to the wish and can be thrown there."""
    shot, part = solved.shot, missed.part
    values = sorted(missed.had, key=lambda value: abs(value - missed.wished))
    shots = [
        _with(shot, speed_mps=value) if part == "speed" else _given(shot, part, value)
        for value in values
    ]
    fine = _fine(solve(shots, stand), stand)
    return next((value for value, good in zip(values, fine, strict=True) if good), None)


def _pointed(stand: Stand) -> str:
    least, most = stand.elevations_deg
    return f"pointed anywhere from {least:g} to {most:g} degrees"


def _outside(solved: Solved, miss: Outside, stand: Stand) -> Diagnostic:
    """What is wished and what can be had."""
    wish, part = solved.shot.wish, kind(solved.shot)
    span, unit = wish.spans.get(part, wish.span), _UNITS[part]
    if not math.isfinite(miss.least):
        return OUT_OF_REACH.report(
            f"no throw of up to 70 m/s lands `{wish.name}` at its place, {_pointed(stand)}",
            help="move the launcher, or choose a place on the receiver's side of the net",
            span=span,
        )
    least = math.ceil(miss.least * 100 + 0.5) / 100
    most = math.floor(miss.most * 100 - 0.5) / 100
    by = max(miss.least - miss.wished, miss.wished - miss.most, 0.0)
    nearest = _nearest_value(solved.shot, part, miss, (least, most), stand)
    return OUT_OF_REACH.report(
        f"`{wish.name}` cannot {_VERBS[part]} {miss.wished:g} {unit} on its way to that place: "
        f"with its spin {least:.2f} to {most:.2f} {unit} can be had, {_pointed(stand)}"
        + (f"; {by:.2f} {unit} away" if by else ""),
        help="choose another place or spin, or move the launcher"
        if nearest is None
        else f"write `{part} {nearest:.2f} {unit}`"
        + (" high, the same way behind the bounce" if part == "contact" else ""),
        span=span,
    )


def _nearest_value(
    shot: Shot, part: str, miss: Outside, span: tuple[float, float], stand: Stand
) -> float | None:
    """The apex, time or height nearest to the wished one that this launcher gives."""
    least, most = span
    if least > most:
        return None
    tried = np.round(np.linspace(least, most, _TRIED), 2).tolist()
    values = sorted(
        {min(max(miss.wished, least), most), *tried}, key=lambda v: abs(v - miss.wished)
    )
    shots = [_given(shot, part, value) for value in values]
    fine = _fine(solve(shots, stand), stand)
    return next((value for value, good in zip(values, fine, strict=True) if good), None)


def _given(shot: Shot, part: str, value: float) -> Shot:
    """The shot with another apex, flight time or height at contact."""
    if part == "contact":
        assert shot.wish.contact is not None
        return _with(shot, contact=msgspec.structs.replace(shot.wish.contact, height_m=value))
    return _with(shot, **{"apex_m" if part == "apex" else "flight_s": value})


def _with(shot: Shot, **changed: Any) -> Shot:
    wish = msgspec.structs.replace(shot.wish, **changed)
    return msgspec.structs.replace(shot, wish=wish)


def _fine(solved: Sequence[Solved], stand: Stand) -> list[bool]:
    """Which shots their launcher can throw to their places, well over the net."""
    return [
        found.missed is None
        and able(stand.profile, found.throw, stand.placed.heading_deg)
        and net_room_m(found.throw, stand) >= _OVER_NET_M
        for found in solved
    ]


def _fixes(solved: Solved, miss: Miss, stand: Stand) -> list[str]:
    """Every fix that was tried and does it: another speed, the other arc, another place."""
    shot = solved.shot
    speeds, other = _speeds(solved, miss, stand), not shot.wish.high_arc
    place = _place(shot, miss, stand)
    shots = [_with(shot, speed_mps=kmh / 3.6) for kmh in speeds]
    shots.append(_with(shot, high_arc=other))
    shots += [_with(shot, land_m=place)] if place else []
    fine = _fine(by_speed(shots, stand, seek_speed=False), stand)
    stepped = bool(stand.profile.drive.steps)
    fixes = _speed_fix(speeds, fine[: len(speeds)], miss, stepped=stepped)
    if fine[len(speeds)]:
        fixes.append(f"keep the speed and write `arc {'high' if other else 'low'}`")
    if place and fine[-1]:
        fixes.append(f"keep the speed and write `land {_place_words(place)}`")
    return fixes


def _speeds(solved: Solved, miss: Miss, stand: Stand) -> list[float]:
    """Speeds in km/h to try, from the one nearest to what was wished to the launcher's end."""
    limits, more = stand.profile.limits.speed_mps, miss.short_m > 0
    if stand.profile.drive.steps:
        had = sorted({ball.speed_mps for ball in balls_for(stand.profile, solved.throw)})
        rest = [v for v in had if v > miss.speed_mps] if more else had[::-1]
        return [round(v * 3.6, 1) for v in rest if more or v < miss.speed_mps]
    end = limits.most if more else limits.least
    needed = miss.speed_needed_mps
    if not math.isfinite(needed) or not limits.holds(needed):
        needed = limits.nearest(miss.speed_mps)
    tenths = np.linspace(_outward(needed, more), end * 3.6, _TRIED)
    inward = (np.floor if more else np.ceil)(tenths[1:] * 10) / 10
    return [float(tenths[0]), *inward.tolist()]


def _speed_fix(
    speeds: Sequence[float], fine: Sequence[bool], miss: Miss, *, stepped: bool
) -> list[str]:
    first = next((n for n, good in enumerate(fine) if good), None)
    if first is None:
        return []
    last = next((n for n in range(first, len(fine)) if not fine[n]), len(fine)) - 1
    more = "more, up to" if miss.short_m > 0 else "less, down to"
    span = f" or {more} {speeds[last]:.1f} km/h" if last > first and not stepped else ""
    return [f"write `speed {speeds[first]:.1f} km/h`{span}"]


def _outward(speed_mps: float, up: bool) -> float:
    """The speed in km/h, rounded by a tenth to the side that still reaches."""
    tenths = speed_mps * 36.0
    return (math.ceil(tenths + 0.5) if up else math.floor(tenths - 0.5)) / 10


def _place(shot: Shot, miss: Miss, stand: Stand) -> tuple[float, float] | None:
    """The nearest place on the same line that this speed does reach, if it is one to feed to."""
    (x_m, y_m), (from_x_m, from_y_m, _) = shot.wish.land_m, stand.placed.mouth_m
    distance_m = math.hypot(x_m - from_x_m, y_m - from_y_m)
    # A hair inside the edge of what is reached, so that the rounded place is reached too.
    reached_m = distance_m - miss.short_m - math.copysign(0.05, miss.short_m)
    share = reached_m / distance_m
    there = from_x_m + share * (x_m - from_x_m), from_y_m + share * (y_m - from_y_m)
    lines = stand.lines
    fits = _SHORTEST_M <= there[1] <= lines.half_length_m and abs(there[0]) <= lines.half_width_m
    return (round(there[0], 2), round(there[1], 2)) if fits else None


def _place_words(place: tuple[float, float]) -> str:
    side, from_net = place
    beside = f"{abs(side):.2f} m to {'ad' if side > 0 else 'deuce'} of centre line"
    return f"{from_net:.2f} m from net, {beside if abs(side) >= 0.01 else 'on centre line'}"


def _speed(speed_mps: float) -> str:
    return f"{speed_mps * 3.6:.1f} km/h ({speed_mps:.1f} m/s)"
