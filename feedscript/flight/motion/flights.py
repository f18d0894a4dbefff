"""Flights: many balls from where they are let go to the next bounce, in one batch.

A flight starts with the ball's centre at the launcher's mouth and ends where the centre is one
radius above the ground, which is where the cloth touches it. ``height`` always means the centre.

Error bound: place and time of every event are within 0.5 mm and 0.05 ms of the exact solution of
the same equations for 8 to 45 m/s, -5 to 60 degrees, 0 to 4,000 rpm about any axis, from sea level
to 3,000 m (held by a test against another integrator).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import msgspec
import numpy as np

from feedscript.flight.launches import Launches, Release
from feedscript.flight.models import Array, Lanes, Mask
from feedscript.flight.motion.conditions import DEFAULT_CONDITIONS, Conditions
from feedscript.flight.motion.events import Apex, Moment, Plane
from feedscript.flight.motion.integrator import Integration

__all__ = [
    "DEFAULT_CONDITIONS",
    "Conditions",
    "Crossings",
    "Flights",
    "Launches",
    "Plane",
    "Release",
    "cross",
    "fly",
    "land",
]

CHUNK = 8192  # balls integrated together: few enough for the cache, enough to be worth a call
NET_PLANE = Plane((0.0, 1.0, 0.0), 0.0)


class Flights(msgspec.Struct, frozen=True, eq=False, dict=True):
    """What the balls did; arrays of the launches' length, NaN where there is nothing to say.

    ``net_*``: where and when the centre crosses the plane of the net (y = 0), if it does before
    the bounce. ``landed`` is False for a ball that does not come down (or starts in the ground).
    """

    landing_x_m: Array
    landing_y_m: Array
    flight_s: Array
    apex_m: Array
    apex_s: Array
    net_height_m: Array
    net_x_m: Array
    net_s: Array
    bounce_velocity_mps: Array  # (3, n), just before the bounce, over the ground
    bounce_spin_radps: Array  # (3, n)
    landed: Mask

    @cached_property
    def speed_at_bounce_mps(self) -> Array:
        speed: Array = np.sqrt(np.sum(self.bounce_velocity_mps**2, axis=0))
        return speed

    def some(self, chosen: Lanes | slice) -> Flights:
        """Those of some of the balls."""
        return Flights(*(getattr(self, name)[..., chosen] for name in self.__struct_fields__))

    def with_some(self, chosen: Lanes, others: Flights) -> Flights:
        """These flights, with ``others`` in the places ``chosen``."""
        parts = []
        for name in self.__struct_fields__:
            part = getattr(self, name).copy()
            part[..., chosen] = getattr(others, name)
            parts.append(part)
        return Flights(*parts)


class Crossings(msgspec.Struct, frozen=True, eq=False):
    """Where, when and how fast balls cross one plane before the bounce: NaN if they do not."""

    place_m: Array  # (3, n)
    velocity_mps: Array  # (3, n)
    time_s: Array


def fly(balls: Launches | Release, conditions: Conditions = DEFAULT_CONDITIONS) -> Flights:
    """Fly every ball to its next bounce."""
    return _in_chunks(balls.release(), conditions, whole=True)


def land(balls: Launches | Release, conditions: Conditions = DEFAULT_CONDITIONS) -> Flights:
    """As :func:`fly`, without apex and net (NaN): cheaper, for those who search or sample."""
    return _in_chunks(balls.release(), conditions, whole=False)


def cross(
    balls: Launches | Release, planes: Sequence[Plane], conditions: Conditions = DEFAULT_CONDITIONS
) -> tuple[Crossings, ...]:
    """Where every ball first crosses each plane before its bounce.

    A plane is level or upright: a receiver's plane, a side of a keep-out, a fence.
    """
    integration = Integration(balls.release(), conditions, planes)
    wind = conditions.wind[:, None]
    return tuple(Crossings(m.place, m.state[:3] + wind, m.time_s) for m in integration.events())


def _in_chunks(release: Release, conditions: Conditions, *, whole: bool) -> Flights:
    parts = [
        _flown(release.some(slice(i, i + CHUNK)), conditions, whole=whole)
        for i in range(0, max(len(release), 1), CHUNK)
    ]
    if len(parts) == 1:
        return parts[0]
    names = Flights.__struct_fields__
    return Flights(*(np.concatenate([getattr(p, n) for p in parts], axis=-1) for n in names))


def _flown(release: Release, conditions: Conditions, *, whole: bool) -> Flights:
    integration = Integration(release, conditions, (Apex(), NET_PLANE) if whole else ())
    landing = integration.landing
    nothing = np.full(len(release), np.nan)
    apex_m = apex_s = net_x = net_height = net_s = nothing
    if whole:
        apex, net = integration.events()
        apex_m, apex_s = _highest(release.place_m[2], apex, landing)
        net_x, net_height, net_s = net.place[0], net.place[2], net.time_s
    equations = integration.equations
    surface = landing.state[3] if conditions.decay else equations.surface_mps
    return Flights(
        landing_x_m=landing.place[0],
        landing_y_m=landing.place[1],
        flight_s=landing.time_s,
        apex_m=apex_m,
        apex_s=apex_s,
        net_height_m=net_height,
        net_x_m=net_x,
        net_s=net_s,
        bounce_velocity_mps=landing.state[:3] + conditions.wind[:, None],
        bounce_spin_radps=equations.axis * (surface / conditions.ball.radius_m),
        landed=np.isfinite(landing.time_s),
    )


def _highest(mouth_m: Array, apex: Moment, landing: Moment) -> tuple[Array, Array]:
    """The highest point: the apex, or the mouth for a ball that only falls."""
    risen = apex.place[2] > mouth_m
    landed = np.isfinite(landing.time_s)
    height = np.where(risen, apex.place[2], mouth_m)
    time = np.where(risen, apex.time_s, 0.0)
    return np.where(landed, height, np.nan), np.where(landed, time, np.nan)
