"""The diagnostic for a feed that no throw of its speed and spin can make, with computed mends."""

from __future__ import annotations

import math

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.profile import Profile
from feedscript.plan.shots import Shot

OUT_OF_REACH = Page(
    slug="out-of-reach",
    title="A feed that cannot reach its place",
    why="""A feed says where the ball lands and how fast it leaves. From a given mouth height, speed
and spin there is a farthest place that any elevation reaches, and for a fast ball a nearest one. A
place outside is out of reach: the message says by how much, and the mend gives the speed, or the
place, that brings it in. Both are computed with the same flights that aim the feeds.""",
    wrong="""feedscript 1
feed floater { land 1 m inside baseline, on centre line  speed 30 km/h }
lesson { show speed of floater  send floater after 5 s }
""",
    mended="""feedscript 1
feed floater { land 1 m inside baseline, on centre line  speed 66 km/h }
lesson { show speed of floater  send floater after 5 s }
""",
)


#: Nobody wants a feed nearer to the net than this: no place there is suggested.
_SHORTEST_M = 1.5


class Miss(msgspec.Struct, frozen=True):
    """How a shot misses: ``short_m`` positive when it falls short, negative when it flies past."""

    shot: Shot
    mouth_m: tuple[float, float, float]
    speed_mps: float
    short_m: float
    speed_needed_mps: float  # nan: no speed does


def out_of_reach(miss: Miss, profile: Profile) -> Diagnostic:
    """By how much, and which change brings it in."""
    way = "short of" if miss.short_m > 0 else "past"
    wish = miss.shot.wish
    return OUT_OF_REACH.report(
        f"`{wish.name}` lands at best {abs(miss.short_m):.2f} m {way} its place "
        f"at {_speed(miss.speed_mps)}",
        help="; or ".join(_mends(miss, profile)),
        span=wish.spans.get("speed", wish.span),
    )


class Outside(msgspec.Struct, frozen=True):
    """A shot to whose place no throw has the wished apex, time or height at contact.

    ``least`` and ``most`` are what throws to that place can have; nan where none lands there.
    """

    shot: Shot
    part: str  # apex, flight, contact
    words: str  # "rise to"
    unit: str
    wished: float
    least: float
    most: float


def outside(miss: Outside) -> Diagnostic:
    """What is wished and what can be had."""
    wish = miss.shot.wish
    span = wish.spans.get(miss.part, wish.span)
    if not math.isfinite(miss.least):
        return OUT_OF_REACH.report(
            f"no throw of up to 70 m/s lands `{wish.name}` at its place",
            help="move the launcher, or choose a place on the receiver's side of the net",
            span=span,
        )
    least = math.ceil(miss.least * 100 + 0.5) / 100
    most = math.floor(miss.most * 100 - 0.5) / 100
    by = max(miss.least - miss.wished, miss.wished - miss.most, 0.0)
    nearest = min(max(miss.wished, least), most)
    return OUT_OF_REACH.report(
        f"`{wish.name}` cannot {miss.words} {miss.wished:g} {miss.unit} on its way to that place: "
        f"with its spin {least:.2f} to {most:.2f} {miss.unit} can be had"
        + (f", {by:.2f} {miss.unit} away" if by else ""),
        help=f"write `{miss.part} {nearest:.2f} {miss.unit}`"
        + (" high, the same way behind the bounce" if miss.part == "contact" else ""),
        span=span,
    )


def _mends(miss: Miss, profile: Profile) -> list[str]:
    mends = []
    needed, limit = miss.speed_needed_mps, profile.limits.speed_mps
    if math.isfinite(needed) and limit.least <= needed <= limit.most:
        more = "or more" if miss.short_m > 0 else "or less"
        mends.append(f"write `speed {_outward(needed, miss.short_m > 0)} km/h` {more}")
    place = _place(miss)
    if place is not None:
        mends.append(place)
    return mends or ["move the launcher nearer: no speed of it reaches that place"]


def _outward(speed_mps: float, up: bool) -> str:
    """The speed in km/h, rounded by a tenth to the side that still reaches."""
    tenths = speed_mps * 36.0
    return f"{(math.ceil(tenths + 0.5) if up else math.floor(tenths - 0.5)) / 10:.1f}"


def _place(miss: Miss) -> str | None:
    """The nearest place on the same line that this speed does reach, if it is one to feed to."""
    (x_m, y_m), (from_x_m, from_y_m, _) = miss.shot.wish.land_m, miss.mouth_m
    distance_m = math.hypot(x_m - from_x_m, y_m - from_y_m)
    # A hair inside the edge of what is reached, so that the rounded place is reached too.
    reached_m = distance_m - miss.short_m - math.copysign(0.05, miss.short_m)
    share = reached_m / distance_m
    there_y_m = from_y_m + share * (y_m - from_y_m)
    if there_y_m < _SHORTEST_M:
        return None
    side = from_x_m + share * (x_m - from_x_m)
    where = f"{there_y_m:.2f} m from net"
    if abs(side) >= 0.01:
        where += f", {abs(side):.2f} m to {'ad' if side > 0 else 'deuce'} of centre line"
    else:
        where += ", on centre line"
    return f"keep the speed and write `land {where}`"


def _speed(speed_mps: float) -> str:
    return f"{speed_mps * 3.6:.1f} km/h ({speed_mps:.1f} m/s)"
