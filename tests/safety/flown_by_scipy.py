"""Balls flown to their second bounce by SciPy, from equations written anew.

Nothing of the project's own integration, sampling or propagation is used: the spin axes, the
forces (Stepanek 1988) and the scatter at the mouth are stated again, and SciPy's DOP853 carries all
balls of a feed forward together. What a ball and the air weigh, how hard the wind blows and the law
of the bounce are taken as given; they are held against published figures elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.integrate import solve_ivp

from feedscript.flight.bounce import Surface, bounce
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.plan.model import AimedFeed

G = 9.80665
STEP_S = 0.005
#: Moments of a stretch.
STRETCH = 16


@dataclass
class Ways:
    """Places of balls every 5 ms, (ball, moment, 3), up to their second bounce."""

    place_m: np.ndarray
    radius_m: float

    @cached_property
    def stretches(self) -> np.ndarray:
        """The ways in stretches of equal length: (stretch, moment, 3), every ball's first first."""
        balls, moments, _ = self.place_m.shape
        whole = np.pad(self.place_m, ((0, 0), (0, -moments % STRETCH), (0, 0)), mode="edge")
        cut = whole.reshape(balls, -1, STRETCH, 3).swapaxes(0, 1)
        return np.ascontiguousarray(cut.reshape(-1, STRETCH, 3))

    @cached_property
    def _boxes(self) -> np.ndarray:
        """The least and greatest x and y of every stretch: (4, stretch)."""
        ground = self.stretches[..., :2]
        return np.ascontiguousarray(np.concatenate([ground.min(axis=1), ground.max(axis=1)], 1).T)

    def between(self, west: float, east: float, south: float, north: float) -> np.ndarray:
        """The stretches that may come into these bounds."""
        x0, y0, x1, y1 = self._boxes
        return np.flatnonzero((x1 > west) & (x0 < east) & (y1 > south) & (y0 < north))


def ways(
    feed: AimedFeed,
    mouth_m: tuple[float, float, float],
    profile: Profile,
    conditions: Conditions,
    surface: Surface,
    balls: int,
    random: np.random.Generator,
) -> Ways:
    """So many balls of a feed, strayed as its profile says, over both bounces."""
    velocity, spin = _thrown(feed, profile, balls, random)
    place = np.tile(np.array(mouth_m)[:, None], (1, balls))
    first = _flown(place, velocity, spin, conditions)
    left, turned, _ = bounce(first.velocity, spin, conditions.ball, surface)
    second = _flown(first.place, left, turned, conditions)
    return Ways(np.concatenate([first.path, second.path], axis=1), conditions.ball.radius_m)


def _thrown(
    feed: AimedFeed, profile: Profile, balls: int, random: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Velocities (3, ball) and spins in rad/s of balls that stray, each quantity by itself."""
    scatter, limits = profile.dispersion, profile.limits

    def strayed(middle: float, deviation: float) -> np.ndarray:
        return random.normal(middle, deviation, balls)

    speed = strayed(feed.speed_mps, scatter.speed_share * feed.speed_mps)
    up = np.radians(strayed(feed.elevation_deg, scatter.elevation_deg))
    turn = np.radians(strayed(feed.azimuth_deg, scatter.azimuth_deg))
    top = strayed(feed.top_rpm, scatter.spin_rpm)
    has_side = limits.side_rpm.most > limits.side_rpm.least
    side = strayed(feed.side_rpm, scatter.spin_rpm if has_side else 0.0)
    throw = np.stack([np.cos(up) * np.sin(turn), np.cos(up) * np.cos(turn), np.sin(up)])
    level = np.stack([-np.cos(turn), np.sin(turn), 0 * turn])
    plumb = np.stack([0 * turn, 0 * turn, -np.ones_like(turn)])
    spin = (top * level + side * plumb) * 2 * np.pi / 60
    # No wheel turns a ball about the line of its throw.
    spin -= np.sum(spin * throw, axis=0) * throw
    return speed * throw, spin


@dataclass(frozen=True)
class _Flight:
    path: np.ndarray  # (ball, moment, 3)
    place: np.ndarray  # (3, ball) at the bounce
    velocity: np.ndarray


def _flown(
    place: np.ndarray, velocity: np.ndarray, spin: np.ndarray, conditions: Conditions
) -> _Flight:
    ball, wind, count = conditions.ball, conditions.wind[:, None], place.shape[1]
    half = 0.5 * conditions.air.density_kgm3 * np.pi * ball.radius_m**2 / ball.mass_kg
    rate = np.linalg.norm(spin, axis=0)
    surface = ball.radius_m * rate
    axis = spin / np.where(rate > 0, rate, 1.0)

    def motion(_: float, flat: np.ndarray) -> np.ndarray:
        y = flat.reshape(6, count)
        through = y[3:] - wind
        v = np.linalg.norm(through, axis=0)
        ratio = np.maximum(surface, 1e-9) / v
        drag = 0.508 + (22.503 + 4.196 * ratio**-2.5) ** -0.4
        lift = 1 / (2.022 + 0.981 / ratio)
        push = -half * ball.wear.drag_factor * drag * v * through
        push += half * ball.wear.lift_factor * lift * v * np.cross(axis, through, axis=0)
        push[2] -= G
        return np.concatenate([y[3:], push]).ravel()

    def all_down(_: float, flat: np.ndarray) -> float:
        return float(flat.reshape(6, count)[2].max() + 0.1)

    all_down.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(
        motion, (0.0, 8.0), np.concatenate([place, velocity]).ravel(), method="DOP853",
        events=all_down, rtol=1e-7, atol=1e-8, t_eval=np.arange(0.0, 8.0, STEP_S),
    )  # fmt: skip
    assert found.status == 1, "some ball did not come down"
    return _to_the_bounce(found.y.reshape(6, count, -1), ball.radius_m)


def _to_the_bounce(states: np.ndarray, radius_m: float) -> _Flight:
    """Each ball's way up to where its centre is a radius over the ground, and then no further."""
    height, lanes = states[2], np.arange(states.shape[1])
    down = (height[:, 1:] < radius_m) & (height[:, 1:] < height[:, :-1])
    last = np.argmax(down, axis=1)
    before, after = states[:, lanes, last], states[:, lanes, last + 1]
    fall = (before[2] - radius_m) / (before[2] - after[2])
    for _ in range(3):  # straight lines first, then the bend between two moments
        fall += (_between(before, after, fall)[2] - radius_m) / (before[2] - after[2])
    place = _between(before, after, fall)
    velocity = before[3:] + fall * (after[3:] - before[3:])
    path = states[:3].transpose(1, 2, 0).copy()
    beyond = np.arange(path.shape[1]) > last[:, None]
    path[beyond] = np.broadcast_to(place.T[:, None], path.shape)[beyond]
    return _Flight(path, place, velocity)


def _between(before: np.ndarray, after: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Places a share of the way between two moments, with the bend that their velocities tell."""
    bend = STEP_S * (after[3:] - before[3:]) / 2
    straight: np.ndarray = before[:3] + share * (after[:3] - before[:3])
    return straight - bend * share * (1 - share)
