"""Flights: many balls from the mouth to the first bounce, in one batch.

A flight starts with the ball's centre at the launcher's mouth and ends where the centre is one
radius above the ground, which is where the cloth touches it. ``height`` always means the centre.

Error bound: with the default tolerance, place and time of every event are within 0.5 mm and
0.05 ms of the exact solution of the same equations for 8 to 45 m/s, -5 to 60 degrees, 0 to
4,000 rpm about any axis, from sea level to 3,000 m (held by a test against another integrator).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import ArrayLike

from feedscript.flight.air import ISA_SEA_LEVEL, Air
from feedscript.flight.ball import DEFAULT_BALL, Ball
from feedscript.flight.events import Apex, Moment, Plane, Sightings, look_for_ground
from feedscript.flight.field import NO_DECAY, Decay, Field, step
from feedscript.flight.models import DEFAULT_MODEL, Array, Lanes, Mask, Model

RPM = np.pi / 30  # rad/s
CHUNK = 2048  # balls marched together: their stages fit a core's cache
_TOLERANCE_MPS = 3e-4  # error estimate allowed in one step
_LONGEST_S = 60.0
_MOST_ROUNDS = 400
NET_PLANE = Plane((0.0, 1.0, 0.0), 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Launches:
    """How balls leave: arrays of one length, made by :meth:`of`.

    ``azimuth_deg`` 0 is along +y, positive to the right (+x). ``top_rpm`` is about the horizontal
    axis left of the throw (ball dips; back is negative), ``side_rpm`` about the vertical (positive
    curves towards +x), ``gyro_rpm`` about the line of throw itself.
    """

    speed_mps: Array
    elevation_deg: Array
    azimuth_deg: Array
    top_rpm: Array
    side_rpm: Array
    gyro_rpm: Array
    x_m: Array
    y_m: Array
    z_m: Array

    @classmethod
    def of(
        cls,
        speed_mps: ArrayLike,
        elevation_deg: ArrayLike,
        azimuth_deg: ArrayLike = 0.0,
        *,
        top_rpm: ArrayLike = 0.0,
        side_rpm: ArrayLike = 0.0,
        gyro_rpm: ArrayLike = 0.0,
        x_m: ArrayLike = 0.0,
        y_m: ArrayLike = 0.0,
        z_m: ArrayLike = 1.0,
    ) -> Launches:
        """Launches from numbers or arrays that broadcast to one length."""
        parts = (speed_mps, elevation_deg, azimuth_deg, top_rpm, side_rpm, gyro_rpm, x_m, y_m, z_m)
        arrays = np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in parts))
        return cls(*(np.ascontiguousarray(np.atleast_1d(array)) for array in arrays))

    def __len__(self) -> int:
        return len(self.speed_mps)

    def some(self, chosen: Lanes | slice) -> Launches:
        """These launches only (indices, mask or slice)."""
        return Launches(*(getattr(self, field.name)[chosen] for field in fields(self)))

    def thrown_by_wheels(self) -> Launches:
        """The same wish without the spin about the line of throw, which wheels cannot give.

        What is left of ``side_rpm`` is then side_rpm cos(elevation), leaning back with the throw.
        """
        gyro = self.side_rpm * np.sin(np.radians(self.elevation_deg))
        return replace(self, gyro_rpm=gyro)

    def direction(self) -> Array:
        """Unit vectors of the throw, (3, n)."""
        up, turn = np.radians(self.elevation_deg), np.radians(self.azimuth_deg)
        level = np.cos(up)
        return np.stack([level * np.sin(turn), level * np.cos(turn), np.sin(up)])

    def velocity(self) -> Array:
        """Velocity over the ground at the mouth, (3, n) in m/s."""
        velocity: Array = self.speed_mps * self.direction()
        return velocity

    def spin(self) -> Array:
        """Spin vectors, (3, n) in rad/s."""
        turn = np.radians(self.azimuth_deg)
        spin = self.gyro_rpm * self.direction()
        spin[0] -= self.top_rpm * np.cos(turn)
        spin[1] += self.top_rpm * np.sin(turn)
        spin[2] -= self.side_rpm
        return spin * RPM


@dataclass(frozen=True, slots=True, eq=False)
class Flights:
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

    @property
    def speed_at_bounce_mps(self) -> Array:
        speed: Array = np.sqrt(np.sum(self.bounce_velocity_mps**2, axis=0))
        return speed


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Where and when balls cross one plane before the bounce: NaN if they do not."""

    place_m: Array  # (3, n)
    time_s: Array


@dataclass(frozen=True, slots=True)
class Conditions:
    """What a ball flies through, and as what: shared by a whole batch."""

    ball: Ball = DEFAULT_BALL
    air: Air = ISA_SEA_LEVEL
    model: Model = DEFAULT_MODEL
    decay: Decay = NO_DECAY

    def field(self, launches: Launches) -> Field:
        return Field.of(launches.spin(), self.ball, self.air, self.model, self.decay)

    @property
    def wind(self) -> Array:
        return np.array([*self.air.wind_mps, 0.0])


DEFAULT_CONDITIONS = Conditions()


def fly(launches: Launches, conditions: Conditions = DEFAULT_CONDITIONS) -> Flights:
    """Fly every ball to its first bounce."""
    return _in_chunks(launches, conditions, True)


def land(launches: Launches, conditions: Conditions = DEFAULT_CONDITIONS) -> Flights:
    """As :func:`fly`, without apex and net (NaN): cheaper, for those who search or sample."""
    return _in_chunks(launches, conditions, False)


def cross(
    launches: Launches, planes: Sequence[Plane], conditions: Conditions = DEFAULT_CONDITIONS
) -> tuple[Crossings, ...]:
    """Where every ball crosses each plane before its bounce (a receiver's plane, a fence)."""
    ground, sights = _march(launches, conditions, planes)
    found = []
    field, wind = conditions.field(launches), conditions.wind
    landing = ground.settle(field, wind)
    for sight in sights:
        moment = sight.settle(field, wind)
        early = moment.time_s <= landing.time_s
        place = np.where(early, moment.place, np.nan)
        found.append(Crossings(place, np.where(early, moment.time_s, np.nan)))
    return tuple(found)


def paths(
    launches: Launches, conditions: Conditions = DEFAULT_CONDITIONS, points: int = 60
) -> tuple[Array, Array]:
    """Places (n, points, 3) and times (n, points) from mouth to bounce, evenly in time."""
    if points < 2:
        raise ValueError("a path needs its two ends at least")
    flights = land(launches, conditions)
    field, wind = conditions.field(launches), conditions.wind
    pieces = max(1, -(-24 // (points - 1)))
    seconds = flights.flight_s / ((points - 1) * pieces)
    state = field.state(launches.velocity() - wind[:, None])
    place = np.stack([launches.x_m, launches.y_m, launches.z_m])
    places = [place]
    for _ in range(points - 1):
        for _ in range(pieces):
            gone = step(field, state, field.rate(state), seconds)
            state = gone.state
            place = place + gone.way + wind[:, None] * seconds
        places.append(place)
    times = flights.flight_s[:, None] * np.linspace(0, 1, points)
    return np.stack(places).transpose(2, 0, 1), times


def _in_chunks(launches: Launches, conditions: Conditions, whole: bool) -> Flights:
    parts = [
        _fly_chunk(launches.some(slice(i, i + CHUNK)), conditions, whole)
        for i in range(0, max(len(launches), 1), CHUNK)
    ]
    if len(parts) == 1:
        return parts[0]
    names = [field.name for field in fields(Flights)]
    return Flights(*(np.concatenate([getattr(p, n) for p in parts], axis=-1) for n in names))


def _fly_chunk(launches: Launches, conditions: Conditions, whole: bool) -> Flights:
    kinds = (Apex(), NET_PLANE) if whole else ()
    ground, sights = _march(launches, conditions, kinds)
    field, wind = conditions.field(launches), conditions.wind
    landing = ground.settle(field, wind)
    landed = np.isfinite(landing.time_s)
    nothing = np.full(len(launches), np.nan)
    apex_m, apex_s, net = nothing, nothing, (np.full((3, len(launches)), np.nan), nothing)
    if whole:
        apex_m, apex_s = _highest(launches, sights[0].settle(field, wind), landing)
        net = _before(sights[1].settle(field, wind), landing)
    surface = landing.state[3] if conditions.decay else field.surface_mps
    return Flights(
        landing_x_m=landing.place[0],
        landing_y_m=landing.place[1],
        flight_s=landing.time_s,
        apex_m=apex_m,
        apex_s=apex_s,
        net_height_m=net[0][2],
        net_x_m=net[0][0],
        net_s=net[1],
        bounce_velocity_mps=landing.state[:3] + wind[:, None],
        bounce_spin_radps=field.axis * (surface / conditions.ball.radius_m),
        landed=landed,
    )


def _before(moment: Moment, landing: Moment) -> tuple[Array, Array]:
    early = moment.time_s <= landing.time_s
    return np.where(early, moment.place, np.nan), np.where(early, moment.time_s, np.nan)


def _highest(launches: Launches, apex: Moment, landing: Moment) -> tuple[Array, Array]:
    """The highest point: the apex, or the mouth for a ball that only falls."""
    place, time = _before(apex, landing)
    risen = place[2] > launches.z_m
    height = np.where(risen, place[2], launches.z_m)
    landed = np.isfinite(landing.time_s)
    return np.where(landed, height, np.nan), np.where(landed, np.where(risen, time, 0.0), np.nan)


def _march(
    launches: Launches, conditions: Conditions, kinds: Sequence[Plane | Apex]
) -> tuple[Sightings, list[Sightings]]:
    """Step every ball with its own step until it has touched down; what was seen on the way."""
    wind = conditions.wind
    whole_field = conditions.field(launches)
    state = whole_field.state(launches.velocity() - wind[:, None])
    place = np.stack([launches.x_m, launches.y_m, launches.z_m])
    balls, rows = len(launches), len(state)
    floor = conditions.ball.radius_m
    ground = Sightings(Plane((0.0, 0.0, 1.0), floor), balls, rows)
    sights = [Sightings(kind, balls, rows) for kind in kinds]
    able = np.isfinite(state).all(axis=0) & np.isfinite(place).all(axis=0) & (place[2] > floor)
    lanes = np.flatnonzero(able)
    field = whole_field.of_lanes(lanes)
    now = Moment(
        state[:, lanes], field.rate(state[:, lanes]), place[:, lanes], np.zeros(len(lanes))
    )
    seconds = _first_step(field, now)
    for _ in range(_MOST_ROUNDS):
        if not lanes.size:
            break
        gone = step(field, now.state, now.rate, seconds)
        after = Moment(
            gone.state,
            field.rate(gone.state),
            now.place + gone.way + wind[:, None] * seconds,
            now.time_s + seconds,
        )
        good = gone.error_mps <= _TOLERANCE_MPS
        seen = np.flatnonzero(good)
        start, end = now.of(seen), after.of(seen)
        touched = look_for_ground(ground, lanes[seen], start, end)
        for sight in sights:
            sight.look(lanes[seen], start, end, wind)
        growth = 0.9 * (_TOLERANCE_MPS / (gone.error_mps + 1e-12)) ** 0.125
        seconds = seconds * np.clip(np.nan_to_num(growth, nan=0.2), 0.2, 3.0)
        now = Moment(*(np.where(good, a, b) for a, b in zip(after, now, strict=True)))
        going = now.time_s < _LONGEST_S
        going[seen[touched]] = False
        lanes, seconds, now = lanes[going], seconds[going], now.of(going)
        field = field.of_lanes(going)
    return ground, sights


def _first_step(field: Field, now: Moment) -> Array:
    """A step that most balls take at once: a share of the time in which drag slows them."""
    speed = np.sqrt(np.sum(now.state[:3] ** 2, axis=0))
    seconds: Array = 0.5 / (1.0 + field.per_m * speed)
    return seconds
