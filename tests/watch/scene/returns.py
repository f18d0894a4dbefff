"""What a player makes of a fed ball: the racket takes it, and it flies back."""

from __future__ import annotations

import msgspec
import numpy as np

from tests.watch.scene.court import FULL
from tests.watch.scene.flying import Air, Flight, Launch, aimed, drawn_ball, fly
from tests.watch.scene.people import Person
from tests.watch.scene.recipe import Hit

CONTACT_M = 0.95  # height; between waist and shoulder
FARTHEST_M = 13.8  # nobody runs farther back: the ball is taken as it rises


class Return(msgspec.Struct, frozen=True, eq=False):
    """A hit and all that comes of it."""

    outcome: str  # in, net, long, left, right; left and right as the hitter sees them
    feed: Flight  # until the racket took it
    back: Flight
    hit: Hit
    player: Person


def _contact_s(feed: Flight) -> float:
    """After the first bounce: as it falls to the player's height, or at the top of its way."""
    first, *later = (touch.at_s for touch in feed.bounces())
    until = later[0] if later else first + 1.0
    times = np.arange(first + 0.1, until, 0.005)
    times = times[np.append(True, feed.at(times[1:])[:, 1] < FARTHEST_M)]
    high = feed.at(times)[:, 2]
    falls = np.flatnonzero((high[:-1] >= CONTACT_M) & (high[1:] < CONTACT_M))
    return float(times[falls[0]] if falls.size else times[int(high.argmax())])


#: Where a ball lands that became this: x and y, least and most; the hitter looks along -y.
LANDS = {
    "in": ((-3.4, 3.4), (-10.8, -5.5)),
    "long": ((-3.4, 3.4), (-14.2, -12.4)),
    "left": ((4.6, 6.2), (-10.5, -5.5)),
    "right": ((-6.2, -4.6), (-10.5, -5.5)),
}


def returned(
    feed: Flight, outcome: str, random: np.random.Generator, air: Air | None = None
) -> Return:
    """The feed taken by a racket, and the way back that ends as ``outcome`` says."""
    at_s = _contact_s(feed)
    x, y, z = feed.at(at_s).tolist()
    for _ in range(40):
        launch = _struck(at_s, (x, y, z), outcome, random)
        ball = msgspec.structs.replace(feed.ball, kick_deg=float(random.normal(0, 0.5)))
        back = fly(launch, ball, air)
        if came_to(back) == outcome:
            break
    else:
        raise ValueError(f"no hit from ({x:.1f}, {y:.1f}, {z:.1f}) found that ends {outcome}")
    return Return(outcome, feed.until(at_s), back, Hit(at_s, (x, y, z)), _player(at_s, (x, y, z)))


def _struck(
    at_s: float, place_m: tuple[float, float, float], outcome: str, random: np.random.Generator
) -> Launch:
    launch = Launch(
        at_s=at_s,
        place_m=place_m,
        speed_mps=float(random.uniform(17, 24)),
        elevation_deg=6.0,
        azimuth_deg=180.0,
        top_rpm=float(random.uniform(-600, 1800)),
        side_rpm=float(random.normal(0, 200)),
    )
    if outcome == "net":
        return msgspec.structs.replace(
            launch,
            elevation_deg=float(random.uniform(-3, 8)),
            azimuth_deg=180.0 + float(random.uniform(-8, 8)),
        )
    across, along = LANDS[outcome]
    landing = (float(random.uniform(*across)), float(random.uniform(*along)))
    try:
        return aimed(launch, landing, drawn_ball(random))
    except (ValueError, np.linalg.LinAlgError):
        return launch


def came_to(back: Flight) -> str:
    """What became of a hit, by the singles court; a ball that touches a line is in."""
    first = back.touches[0]
    if first.what == "net":
        return "net"
    bounce = next(iter(back.bounces()), None)
    if bounce is None:
        return "out of sight"
    x, y, _ = bounce.place_m
    room = back.ball.radius_m
    if y > 0:
        return "net"
    if y < -FULL.half_long_m - room:
        return "long"
    assert FULL.singles_m is not None
    if abs(x) > FULL.singles_m + room:
        return "left" if x > 0 else "right"
    return "in"


def _player(at_s: float, place_m: tuple[float, float, float]) -> Person:
    """Somebody who gets there in time, on the ball's nearer side to the middle."""
    x, y, z = place_m
    beside = x - 0.75
    ready = (0.0, max(y, 12.2))
    way = (
        (at_s - 60, *ready),
        (at_s - 1.3, *ready),
        (at_s - 0.25, beside, y + 0.15),
        (at_s + 0.3, beside, y),
        (at_s + 1.6, *ready),
        (at_s + 60, *ready),
    )
    return Person(way=way, swings=((at_s, x, y, z),))
