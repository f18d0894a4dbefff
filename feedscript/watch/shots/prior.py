"""What is known of a shot before one looks: it begins on the fed ball's way, and goes back.

How fast, how high, how much turned: as wide as players hit, children and grown ones; design
values, no source.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from feedscript.flight.models import Array
from feedscript.watch.seek.expected import AT, UNKNOWNS, Expected, Scatter
from feedscript.watch.seek.paths import paths

#: A racket takes a ball from so soon after its bounce on, and so late at most.
SOONEST_S, LATEST_S = 0.06, 1.1
#: So long a ball is followed on its way back.
BACK_S = 2.0
#: The least and the most of what a shot leaves the racket with.
SPEED_MPS, UP_DEG, ASIDE_DEG = (6.0, 42.0), (-20.0, 45.0), (-40.0, 40.0)
_AFTER_STEPS = 5
#: How far a shot may differ from the start that was found for it.
_LOOSE = Scatter(
    speed_mps=1.5,
    elevation_deg=2.0,
    azimuth_deg=2.0,
    top_rpm=500.0,
    side_rpm=150.0,
    left_s=0.02,
    place_m=0.2,
)
#: How far air and ball may differ from the usual ones while a start is still far off.
_STIFF = {"drag": 0.02, "lift": 0.05, "wind_mps": 0.1, "push": 0.003}
_USUAL_TOP_RPM = 500.0


class Struck(msgspec.Struct, frozen=True):
    """A racket meets the ball, which leaves with this velocity."""

    at_s: float
    place_m: tuple[float, float, float]
    velocity_mps: tuple[float, float, float]


class Way(msgspec.Struct, frozen=True, eq=False):
    """The fed ball's places (n, 3) at times (n,) at which a racket may take it."""

    times_s: Array
    places_m: Array
    down: bool  # it ends with a second bounce

    def after(self, at_s: float) -> Way:
        """What of it is left from then on."""
        left = self.times_s >= at_s
        return Way(self.times_s[left], self.places_m[left], self.down)


def way_of(expected: Expected, unknowns: Array, step_s: float = 0.02) -> Way:
    """After the bounce of the ball of these ``UNKNOWNS``, shape (20,), until it bounces again."""
    flown = paths(unknowns[None], expected, _AFTER_STEPS)
    down_s = float(flown.left_s[0] + flown.flight_s[0])
    times = down_s + np.arange(SOONEST_S, LATEST_S, step_s)
    places = flown.at(times)[0]
    low = ~(places[:, 2] > expected.conditions.ball.radius_m)
    until = int(low.argmax()) if low.any() else len(times)
    return Way(times[:until], places[:until], bool(low.any()))


def as_expected(fed: Expected, struck: Struck) -> Expected:
    """The shot as a ball that is looked for; its mouth is the racket."""
    vx, vy, vz = struck.velocity_mps
    return msgspec.structs.replace(
        fed,
        left_s=struck.at_s,
        mouth_m=struck.place_m,
        speed_mps=math.sqrt(vx * vx + vy * vy + vz * vz),
        elevation_deg=math.degrees(math.atan2(vz, math.hypot(vx, vy))),
        azimuth_deg=math.degrees(math.atan2(vx, vy)),
        top_rpm=_USUAL_TOP_RPM,
        side_rpm=0.0,
        scatter=_LOOSE,
    )


def stiff(shot: Expected) -> Expected:
    """The shot in usual air: else a start that is too slow is taken for a ball that flies on as if
    there were hardly any, and is never left again."""
    scatter = msgspec.structs.replace(shot.scatter, **_STIFF)
    return msgspec.structs.replace(shot, scatter=scatter)


def freed(shot: Expected) -> Expected:
    """The shot in air as it may be."""
    return msgspec.structs.replace(shot, scatter=_LOOSE)


def drawn_shots(fed: Expected, count: int) -> Array:
    """Shots as they may be, shape (count, 20) of ``UNKNOWNS``, of feeds as they may fly."""
    random = np.random.default_rng((fed.number, 2))
    flown = paths(fed.drawn(count, random, 1.5), fed, _AFTER_STEPS)
    at_s = flown.left_s + flown.flight_s + random.uniform(SOONEST_S, LATEST_S, count)
    places = flown.at(at_s[:, None])[:, 0]
    shots = np.tile(fed.middle, (count, 1))
    drawn = {
        "speed_mps": random.uniform(*SPEED_MPS, count),
        "elevation_deg": random.uniform(*UP_DEG, count),
        "azimuth_deg": 180.0 + random.uniform(*ASIDE_DEG, count),
        "top_rpm": random.normal(_USUAL_TOP_RPM, 900.0, count),
        "side_rpm": random.normal(0.0, 300.0, count),
        "left_s": at_s,
        "x_m": places[:, 0],
        "y_m": places[:, 1],
        "z_m": places[:, 2],
    }
    for name, values in drawn.items():
        shots[:, AT[name]] = values
    kept = np.isfinite(places).all(-1) & (places[:, 2] > 0.05)
    return shots[kept] if kept.any() else shots[:0].reshape(0, len(UNKNOWNS))
