"""How a real ball might fly: a force law, a bounce and an integrator of their own.

Nothing here is the product's: what it finds in a film of these flights it has not put there. Each
ball draws its own coefficients from what was published, so no model fits all of them:

- drag: C_D = c + s / (22.503 + 4.196 (v / v_s)^2.5)^0.4, v_s the speed of the surface by spin;
  lift: C_L = l / (2.022 + 0.981 v / v_s): A. Stepanek, "The aerodynamics of tennis balls: the
  topspin lob", Am. J. Phys. 56 (1988) 138, who has c = 0.508, s = l = 1. c is drawn between the
  free flights of R. Cross and C. Lindsey, "Measurements of drag and lift on tennis balls in
  flight", Sports Eng. 17 (2014) 89 (0.507, scatter from shot to shot, some lift without spin) and
  wind tunnels (0.6 to 0.65); served balls in matches had 0.58 to 0.60 (S. Choppin and others,
  Proceedings 2 (2018) 265);
- bounce: slides, or grips and then leaves with a tangential restitution (R. Cross, "Grip-slip
  behavior of a bouncing ball", Am. J. Phys. 70 (2002) 1093): impulse per mass the lesser of
  mu (1 + e) v_z and (1 + e_x) u a / (1 + a), u the speed of the point of contact, a = I / (m R^2)
  about 0.55.

Axes: x across, y from launcher to receiver, z up. Topspin turns about the horizontal axis left of
the flight, and positive side spin curves a ball that flies along +y towards +x.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from tests.watch.scene.court import FENCE_HIGH_M, FULL, Ground

Array = NDArray[np.float64]
GRAVITY_MPS2, RPM = 9.80665, math.pi / 30
STEP_S = 1e-3  # between places kept; a straight line in between is off by under 0.005 mm
ROLLING_MPS2 = 1.2  # how a rolling ball slows; no source


class Ball(msgspec.Struct, frozen=True, kw_only=True):
    """What one ball is like, in the air and against the ground."""

    mass_kg: float = 0.0577
    radius_m: float = 0.0333
    drag: float = 0.56
    drag_by_spin: float = 1.0
    lift: float = 1.0
    seam_lift: tuple[float, float] = (0.0, 0.0)  # coefficients to the right and up, spin or not
    spin_lost_per_s: float = 0.0
    restitution: float = 0.76
    friction: float = 0.62
    grip: float = 0.1
    kick_deg: float = 0.0  # by which an uneven ground turns the first bounce
    inertia: float = 0.55


class Air(msgspec.Struct, frozen=True):
    density_kgpm3: float = 1.2
    wind_mps: tuple[float, float, float] = (0.0, 0.0, 0.0)


#: Friction and restitution: middle and spread. Friction from the ITF's bands of court pace
#: (ITF, "Court pace classification programme": slow over 0.7, fast under 0.56).
SURFACES = {"hard": (0.62, 0.77), "clay": (0.76, 0.80), "grass": (0.54, 0.72)}


class Kind(msgspec.Struct, frozen=True):
    """A kind of ball: least and most of mass and radius, and how it bounces beside a yellow one."""

    mass_kg: tuple[float, float]
    radius_m: tuple[float, float]
    bounces: float = 1.0


#: ITF Rules of Tennis, appendix I: mass, size, and the root of the rebound (141 cm of 254 for
#: yellow, 112 orange, 97 red, the middles of their ranges). Masses and sizes of orange and red
#: balls are from memory.
KINDS = {
    "full": Kind((0.0560, 0.0594), (0.0327, 0.0343)),
    "orange": Kind((0.0360, 0.0469), (0.0300, 0.0343), math.sqrt(112 / 141)),
    "red": Kind((0.0360, 0.0490), (0.0350, 0.0400), math.sqrt(97 / 141)),
}


def drawn_ball(random: np.random.Generator, surface: str = "hard", court: str = "full") -> Ball:
    """A ball of its own, of the kind that is played on that court."""
    (friction, restitution), kind = SURFACES[surface], KINDS[court]
    return Ball(
        mass_kg=random.uniform(*kind.mass_kg),
        radius_m=random.uniform(*kind.radius_m),
        drag=float(np.clip(random.normal(0.565, 0.03), 0.50, 0.65)),
        drag_by_spin=random.uniform(0.6, 1.1),
        lift=random.uniform(0.85, 1.15),
        seam_lift=(random.normal(0, 0.008), random.normal(0, 0.008)),
        spin_lost_per_s=random.uniform(0.0, 0.05),
        restitution=random.normal(restitution, 0.025) * kind.bounces,
        friction=random.normal(friction, 0.04),
        grip=random.uniform(0.0, 0.2),
        kick_deg=random.normal(0, 1.0 if surface == "clay" else 0.4),
    )


class Launch(msgspec.Struct, frozen=True, kw_only=True):
    """How a ball leaves a launcher or a racket."""

    at_s: float
    place_m: tuple[float, float, float]
    speed_mps: float
    elevation_deg: float
    azimuth_deg: float  # 0 along +y, positive towards +x
    top_rpm: float = 0.0
    side_rpm: float = 0.0

    def velocity(self) -> Array:
        up, round_ = math.radians(self.elevation_deg), math.radians(self.azimuth_deg)
        along = self.speed_mps * math.cos(up)
        return np.array(
            [along * math.sin(round_), along * math.cos(round_), self.speed_mps * math.sin(up)]
        )

    def spin(self) -> Array:
        round_ = math.radians(self.azimuth_deg)
        left = np.array([-math.cos(round_), math.sin(round_), 0.0])
        return self.top_rpm * RPM * left - self.side_rpm * RPM * np.array([0.0, 0.0, 1.0])


class Touch(msgspec.Struct, frozen=True):
    """The ball meets something."""

    what: str  # ground, net, fence
    at_s: float
    place_m: tuple[float, float, float]  # of the ball's centre
    speed_mps: float  # just before
    falling_deg: float  # just before, below the horizontal
    spin_rpm: float  # just before


class Flight(msgspec.Struct, frozen=True, eq=False):
    """A ball's whole way, until it lies still; places at times that rise."""

    launch: Launch
    ball: Ball
    times_s: Array
    places_m: Array  # (n, 3)
    touches: tuple[Touch, ...]
    taken: bool = False  # a racket took it: it does not lie where its way ends

    def at(self, times_s: Array | float) -> Array:
        """(..., 3) places of the centre; before it left, where it left; at last, where it lies."""
        times = np.asarray(times_s, float)
        return np.stack(
            [np.interp(times, self.times_s, self.places_m[:, axis]) for axis in range(3)], axis=-1
        )

    def bounces(self) -> tuple[Touch, ...]:
        return tuple(touch for touch in self.touches if touch.what == "ground")

    def until(self, at_s: float) -> Flight:
        """The part before something (a racket) took the ball."""
        keep = self.times_s < at_s
        return msgspec.structs.replace(
            self,
            times_s=np.append(self.times_s[keep], at_s),
            places_m=np.vstack([self.places_m[keep], self.at(at_s)]),
            touches=tuple(touch for touch in self.touches if touch.at_s < at_s),
            taken=True,
        )

    def velocity(self, at_s: float) -> Array:
        return (self.at(at_s) - self.at(at_s - STEP_S)) / STEP_S


def force_law(ball: Ball, air: Air, spin: Array) -> Callable[[float, Array], list[float]]:
    """d/dt of (place, velocity) for one spin, that dies away from the time 0 of this leg."""
    k = 0.5 * air.density_kgpm3 * math.pi * ball.radius_m**2 / ball.mass_kg
    rate = float(np.linalg.norm(spin))
    ax, ay, az = (spin / rate if rate > 0 else spin).tolist()
    wx, wy, wz = air.wind_mps
    seam_right, seam_up = ball.seam_lift

    def change(t: float, state: Array) -> list[float]:
        _, _, _, vx, vy, vz = state.tolist()
        rx, ry, rz = vx - wx, vy - wy, vz - wz
        v = math.sqrt(rx * rx + ry * ry + rz * rz) or 1e-9
        surface = rate * math.exp(-ball.spin_lost_per_s * t) * ball.radius_m
        drag, lift = ball.drag, 0.0
        if surface > 1e-6:
            drag += ball.drag_by_spin / (22.503 + 4.196 * (v / surface) ** 2.5) ** 0.4
            lift = ball.lift / (2.022 + 0.981 * v / surface)
        right, flat = k * seam_right * v, math.hypot(rx, ry) or 1e-9
        back, turn, up = -k * drag * v, k * lift * v, k * seam_up * v
        return [
            vx,
            vy,
            vz,
            back * rx + turn * (ay * rz - az * ry) + (right * ry * v - up * rx * rz) / flat,
            back * ry + turn * (az * rx - ax * rz) + (-right * rx * v - up * ry * rz) / flat,
            back * rz + turn * (ax * ry - ay * rx) + up * flat - GRAVITY_MPS2,
        ]

    return change


def bounced(ball: Ball, velocity: Array, spin: Array, kick_deg: float) -> tuple[Array, Array]:
    """Velocity and spin after the ground."""
    down, flat = -velocity[2], velocity * (1, 1, 0)
    slip = flat + np.cross(spin, [0.0, 0.0, -ball.radius_m])
    slip[2] = 0.0
    speed = float(np.linalg.norm(slip))
    slides = ball.friction * (1 + ball.restitution) * down
    grips = (1 + ball.grip) * speed * ball.inertia / (1 + ball.inertia)
    push = -slip / speed * min(slides, grips) if speed > 0 else np.zeros(3)
    turn = math.radians(kick_deg)
    away = flat + push
    away = np.array(
        [
            away[0] * math.cos(turn) - away[1] * math.sin(turn),
            away[0] * math.sin(turn) + away[1] * math.cos(turn),
            ball.restitution * down,
        ]
    )
    return away, spin - np.cross([0.0, 0.0, 1.0], push) / (ball.inertia * ball.radius_m)


def _event(function: Callable[[Array], float], direction: int) -> Callable[[float, Array], float]:
    def event(t: float, state: Array) -> float:
        return function(state)

    event.terminal, event.direction = True, direction  # type: ignore[attr-defined]
    return event


class _Leg(msgspec.Struct, eq=False):
    """Where a ball is between two touches."""

    at_s: float
    place: Array
    velocity: Array
    spin: Array


def _fly_on(leg: _Leg, ball: Ball, air: Air, ground: Ground, most_s: float) -> tuple[Array, Array]:
    """Times from the leg's start, and states (n, 6), until the next touch or ``most_s``."""
    events = [_event(lambda s: s[2] - ball.radius_m, -1), _event(lambda s: s[1], 0)]
    events += [
        _event(lambda s: abs(s[0]) - ground.fence_x_m, 1),
        _event(lambda s: abs(s[1]) - ground.fence_y_m, 1),
    ]
    found = solve_ivp(
        force_law(ball, air, leg.spin),
        (0.0, most_s),
        np.concatenate([leg.place, leg.velocity]),
        method="DOP853",
        rtol=1e-9,
        atol=1e-10,
        dense_output=True,
        events=events,
    )
    end = float(found.t[-1])
    times = np.append(np.arange(0.0, end, STEP_S), end)
    return times, found.sol(times).T


def _touched(
    leg: _Leg, ball: Ball, ground: Ground, kick_deg: float
) -> tuple[str | None, Array, Array]:
    """What the ball met at the end of its leg, and its velocity and spin after."""
    x, y, z = leg.place.tolist()
    velocity, spin = leg.velocity, leg.spin
    if z <= ball.radius_m + 1e-6 and velocity[2] < 0:
        return "ground", *bounced(ball, velocity, spin, kick_deg)
    if abs(y) < 1e-6:
        low = z - ball.radius_m < ground.cord_m(x) and abs(x) < ground.post_m
        # The net gives way: what is left is a slow ball on this side of it.
        return ("net", velocity * (0.2, -0.08, 0.3), spin * 0.1) if low else (None, velocity, spin)
    if z > FENCE_HIGH_M:
        return None, velocity, spin
    back = (-0.15, 0.3, 0.3) if abs(x) >= ground.fence_x_m - 1e-6 else (0.3, -0.15, 0.3)
    return "fence", velocity * back, spin * 0.1


def _rolls(leg: _Leg, ground: Ground) -> tuple[Array, Array]:
    """Times and places of a ball that rolls out, to the fence at most."""
    flat = leg.velocity * (1, 1, 0)
    speed = float(np.linalg.norm(flat))
    times = np.linspace(0.0, max(speed / ROLLING_MPS2, STEP_S), 200)
    gone = speed * times - ROLLING_MPS2 * times**2 / 2
    places = leg.place + gone[:, None] * (flat / max(speed, 1e-9))
    most = (ground.fence_x_m, ground.fence_y_m)
    places[:, :2] = np.clip(places[:, :2], np.negative(most), most)
    return times, places


def _legs(
    launch: Launch, ball: Ball, air: Air, ground: Ground, most_s: float, touches: list[Touch]
) -> Iterator[tuple[Array, Array]]:
    leg = _Leg(launch.at_s, np.array(launch.place_m), launch.velocity(), launch.spin())
    while leg.at_s < launch.at_s + most_s:
        times, states = _fly_on(leg, ball, air, ground, launch.at_s + most_s - leg.at_s)
        yield times + leg.at_s, states[:, :3]
        decay = math.exp(-ball.spin_lost_per_s * times[-1])
        leg = _Leg(leg.at_s + float(times[-1]), states[-1, :3], states[-1, 3:], leg.spin * decay)
        first = not any(touch.what == "ground" for touch in touches)
        what, velocity, spin = _touched(leg, ball, ground, ball.kick_deg if first else 0.0)
        if what is not None:
            touches.append(_touch(what, leg))
        leg = _Leg(leg.at_s, leg.place + np.sign(velocity) * 1e-6, velocity, spin)
        if what == "ground" and velocity[2] < 0.7:
            times, places = _rolls(leg, ground)
            yield times + leg.at_s, places
            return


def _touch(what: str, leg: _Leg) -> Touch:
    speed = float(np.linalg.norm(leg.velocity))
    x, y, z = leg.place.tolist()
    return Touch(
        what,
        leg.at_s,
        (x, y, z),
        speed,
        math.degrees(math.asin(-leg.velocity[2] / speed)),
        float(np.linalg.norm(leg.spin)) / RPM,
    )


def fly(
    launch: Launch,
    ball: Ball | None = None,
    air: Air | None = None,
    ground: Ground = FULL,
    most_s: float = 8.0,
) -> Flight:
    """The ball's way until it lies still, or for ``most_s``."""
    ball, touches = ball or Ball(), list[Touch]()
    parts = list(_legs(launch, ball, air or Air(), ground, most_s, touches))
    times = np.concatenate([each for each, _ in parts])
    places = np.concatenate([each for _, each in parts])
    rising = np.append(True, np.diff(times) > 0)
    return Flight(launch, ball, times[rising], places[rising], tuple(touches))


def lying(x_m: float, y_m: float) -> Flight:
    """A ball that lies about from the beginning."""
    place = (x_m, y_m, Ball().radius_m)
    launch = Launch(at_s=-1.0, place_m=place, speed_mps=0.0, elevation_deg=0.0, azimuth_deg=0.0)
    return Flight(launch, Ball(), np.array([-1.0, -0.5]), np.array([place, place]), ())


def _lands(launch: Launch, ball: Ball, air: Air) -> Array:
    """(2,) where a ball would land if nothing stood in its way."""
    clear = msgspec.structs.replace(
        FULL, cord_middle_m=-1.0, cord_post_m=-1.0, behind_m=500.0, beside_m=500.0
    )
    touches = list[Touch]()
    for _ in _legs(launch, ball, air, clear, 8.0, touches):
        if touches:
            return np.array(touches[0].place_m[:2])
    raise ValueError("this ball does not come down")


def aimed(
    launch: Launch, landing_m: tuple[float, float], ball: Ball | None = None, air: Air | None = None
) -> Launch:
    """The same launch, elevated and turned so that the ball lands there, on the lower way.

    ValueError when it is too slow to get there.
    """
    ball, air = ball or Ball(), air or Air()
    away = np.subtract(landing_m, launch.place_m[:2])
    angles = np.array([6.0, math.degrees(math.atan2(away[0], away[1]))])

    def at(angles: Array) -> Array:
        up, round_ = angles.tolist()
        turned = msgspec.structs.replace(launch, elevation_deg=up, azimuth_deg=round_)
        return _lands(turned, ball, air) - landing_m

    for _ in range(12):
        off = at(angles)
        if np.linalg.norm(off) < 0.005:
            up, round_ = angles.tolist()
            return msgspec.structs.replace(launch, elevation_deg=up, azimuth_deg=round_)
        slope = np.column_stack([(at(angles + step) - off) / 0.1 for step in np.eye(2) * 0.1])
        angles = angles - np.clip(np.linalg.solve(slope, off), -5, 5)
        angles[0] = np.clip(angles[0], -25, 38)
    raise ValueError(f"{launch.speed_mps:.1f} m/s does not reach {landing_m}")
