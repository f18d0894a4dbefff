"""People on a court: a dozen rounded limbs that walk, and now and then swing a racket.

Nobody in particular: sizes are those of Drillis and Contini's drawing of the body ("Body segment
parameters", 1966), shares of the height from memory.
"""

from __future__ import annotations

import itertools
import math
from functools import lru_cache

import msgspec
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
SKIN, SHIRT, SHORTS, SHOES, RACKET = range(5)
SWING_S = 0.35
REACH_M = 0.5  # from the hand to the middle of the strings


#: Ends (3,) in metres, half width, and what it wears.
Limb = tuple[Array, Array, float, int]


class Person(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody who is at places at times, and walks in between."""

    way: tuple[tuple[float, float, float], ...]  # time s, x m, y m, times rising
    height_m: float = 1.65
    swings: tuple[tuple[float, float, float, float], ...] = ()  # time, and where the racket meets
    colours: tuple[tuple[float, float, float], ...] = (
        (188, 146, 118),
        (60, 66, 120),
        (40, 40, 44),
        (210, 210, 210),
        (30, 30, 34),
    )

    def at(self, at_s: float) -> tuple[Array, float, Array]:
        """Where on the ground, how far it has walked, and which way it looks (2,)."""
        return _at(self, at_s)

    def _at(self, at_s: float) -> tuple[Array, float, Array]:
        times, x, y = np.array(self.way).T
        here = np.array([np.interp(at_s, times, x), np.interp(at_s, times, y)])
        steps = np.hypot(np.diff(x), np.diff(y))
        walked = float(np.interp(at_s, times, np.append(0.0, np.cumsum(steps))))
        leg = int(np.clip(np.searchsorted(times, at_s) - 1, 0, len(times) - 2))
        gone = np.array([x[leg + 1] - x[leg], y[leg + 1] - y[leg]])
        moves = times[leg] <= at_s <= times[leg + 1] and np.linalg.norm(gone) > 0.05
        looks = gone / np.linalg.norm(gone) if moves else np.array([0.0, -np.sign(here[1]) or -1.0])
        return here, walked, looks

    def middles(self, times_s: Array) -> Array:
        """(n, 3) of the middle of the body."""
        times, x, y = np.array(self.way).T
        high = np.full(len(times_s), self.height_m / 2)
        return np.column_stack([np.interp(times_s, times, x), np.interp(times_s, times, y), high])

    def limbs(self, at_s: float) -> list[Limb]:
        """Every limb; those that are drawn over others come last."""
        return _limbs(self, at_s)

    def _limbs(self, at_s: float) -> list[Limb]:
        here, walked, looks = self.at(at_s)
        tall = self.height_m
        ahead = np.array([looks[0], looks[1], 0.0])
        side = np.array([-looks[1], looks[0], 0.0])
        foot = np.array([here[0], here[1], 0.0])
        up = np.array([0.0, 0.0, 1.0])
        stride = math.sin(walked / (0.42 * tall) * math.pi)
        hip, shoulder = foot + 0.50 * tall * up, foot + 0.80 * tall * up
        found = [
            (hip + 0.04 * tall * up, shoulder - 0.06 * tall * up, 0.095 * tall, SHIRT),
            (hip, hip + 0.06 * tall * up, 0.092 * tall, SHORTS),
            (foot + 0.925 * tall * up, foot + 0.945 * tall * up, 0.06 * tall, SKIN),
        ]
        for which in (-1, 1):
            swing = which * stride
            top = hip + 0.055 * tall * which * side
            knee = top + tall * (0.10 * swing * ahead - 0.22 * up)
            heel = (
                knee + tall * (-0.05 * max(-swing, 0.0) + 0.05 * swing) * ahead - 0.24 * tall * up
            )
            found += [
                (top, top * 0.4 + knee * 0.6, 0.052 * tall, SHORTS),
                (knee, heel, 0.034 * tall, SKIN),
                (heel, heel + 0.08 * tall * ahead, 0.025 * tall, SHOES),
            ]
            arm = shoulder + 0.115 * tall * which * side
            elbow = arm + tall * (-0.06 * swing * ahead - 0.17 * up)
            hand = elbow + tall * (0.08 * ahead - 0.10 * up)
            if which == 1:
                hand, points = self._swung(at_s, hand, (hand - arm) / np.linalg.norm(hand - arm))
                elbow = (arm + hand) / 2 - 0.04 * tall * up
                tip = hand + REACH_M * points
                found += [(hand, tip, 0.012, RACKET), *_hoop(tip, points)]
            found += [(arm, elbow, 0.03 * tall, SHIRT), (elbow, hand, 0.024 * tall, SKIN)]
        return found

    def _swung(self, at_s: float, hand: Array, points: Array) -> tuple[Array, Array]:
        """The racket hand, and where the racket points: to the ball, at each swing."""
        for meets_s, *where in self.swings:
            share = 1 - abs(at_s - meets_s) / SWING_S
            if share > 0:
                body = self.at(meets_s)[0]
                towards = np.array(where) - np.array([body[0], body[1], where[2]])
                towards = towards / (np.linalg.norm(towards) or 1.0)
                gone = math.sin(share * math.pi / 2)
                hand = hand + (np.array(where) - REACH_M * towards - hand) * gone
                points = points + (towards - points) * gone
                return hand, points / np.linalg.norm(points)
        return hand, points


def _hoop(middle: Array, along: Array) -> list[Limb]:
    """A racket's head, upright: strings let the light through."""
    side = np.array([-along[1], along[0], 0.0])
    side = side / np.linalg.norm(side) if np.linalg.norm(side) > 0.1 else np.array([1.0, 0.0, 0.0])
    side = np.cross(along, side)
    turns = np.linspace(0, 2 * math.pi, 8)[:, None]
    ring = middle + 0.16 * np.cos(turns) * along + 0.12 * np.sin(turns) * side
    return [(one, other, 0.011, RACKET) for one, other in itertools.pairwise(ring)]


@lru_cache(maxsize=64)
def _limbs(person: Person, at_s: float) -> list[Limb]:
    """A frame asks twice: for the body and for its shadow."""
    return person._limbs(at_s)


@lru_cache(maxsize=64)
def _at(person: Person, at_s: float) -> tuple[Array, float, Array]:
    return person._at(at_s)


class Bird(msgspec.Struct, frozen=True, kw_only=True):
    """Something dark that flaps across."""

    at_s: float
    place_m: tuple[float, float, float]
    velocity_mps: tuple[float, float, float]
    span_m: float = 0.4
    flaps_hz: float = 6.0

    def at(self, times_s: Array) -> Array:
        times = np.asarray(times_s, float)
        bob = 0.05 * np.sin(2 * np.pi * self.flaps_hz * times)
        way = np.multiply.outer(times - self.at_s, self.velocity_mps) + self.place_m
        way[..., 2] += bob
        return way
