"""Where a shot may begin: two blobs, and a place on the fed ball's way, make a way back.

A ball's way from a known place at a known time has three unknowns, its velocity, and each picture
of it gives two equations. Drag along the way is that of a straight flight, s = ln(1 + k v t) / k;
weight falls freely. What comes of it is near enough to look along.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.models import Array, Mask
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project, ray
from feedscript.watch.shots.gather import Back
from feedscript.watch.shots.prior import ASIDE_DEG, SPEED_MPS, UP_DEG, Struck, Way

#: k of an ordinary ball: half the air's density times area times drag over mass, 1/m (about 0.6 *
#: 0.00348 m^2 * 0.56 / 0.0577 kg).
_DRAG_PER_M = 0.02
_WEIGHT = np.array([0.0, 0.0, -9.81])
#: A ball is looked for from so long after the racket on: in the first part, in the second, to here.
_FIRST_S, _SECOND_S, _UNTIL_S = (0.04, 0.22), (0.22, 0.6), 0.9
_PICTURES = 4  # of each part
#: The two blobs may lie so far off the way that they make, for a picture 1280 wide.
_OFF_PX, _NEAR_PX = 4.0, 6.0
#: Starts are as many, apart in time and velocity by so much.
_STARTS, _APART_S, _APART_MPS = 6, 0.05, 1.5
#: A start has so much seen along it: a blob right on it counts 1.
_LEAST_SCORE = 5.0
#: At most so many blobs of a picture are taken for the ball.
_MOST_BLOBS = 25


class _Drawn(msgspec.Struct, frozen=True, eq=False):
    """Ways back: when and where they begin, and with which velocity; a row each."""

    at_s: Array
    place_m: Array
    velocity_mps: Array

    def some(self, chosen: NDArray[np.intp]) -> _Drawn:
        return _Drawn(self.at_s[chosen], self.place_m[chosen], self.velocity_mps[chosen])

    def places(self, times_s: Array) -> Array:
        """(n, m, 3) at times (m,); NaN before it begins."""
        since = times_s[None] - self.at_s[:, None]
        since = np.where(since >= 0, since, np.nan)
        speed = np.linalg.norm(self.velocity_mps, axis=1)[:, None]
        gone = _gone(speed, since)[..., None] * self.velocity_mps[:, None]
        return np.asarray(self.place_m[:, None] + gone + 0.5 * _WEIGHT * since[..., None] ** 2)


def starts(camera: Camera, way: Way, back: Back) -> list[Struck]:
    """The ways back along which most is seen, the best first, unlike each other."""
    if not len(way.times_s) or not len(back.times_s):
        return []
    each = zip(way.times_s.tolist(), way.places_m, strict=True)
    tried = (_of_one(camera, at_s, place, back) for at_s, place in each)
    parts = [one for one in tried if one is not None]
    if not parts:
        return []
    drawn = _Drawn(
        np.concatenate([one.at_s for one in parts]),
        np.concatenate([one.place_m for one in parts]),
        np.concatenate([one.velocity_mps for one in parts]),
    )
    scores = _scores(camera, drawn, back)
    found: list[Struck] = []
    for one in np.argsort(-scores):
        if scores[one] < _LEAST_SCORE or len(found) == _STARTS:
            break
        struck = _struck(drawn, int(one))
        if not any(_alike(struck, other) for other in found):
            found.append(struck)
    return found


def _struck(drawn: _Drawn, one: int) -> Struck:
    x, y, z = drawn.place_m[one].tolist()
    vx, vy, vz = drawn.velocity_mps[one].tolist()
    return Struck(float(drawn.at_s[one]), (x, y, z), (vx, vy, vz))


def _alike(one: Struck, other: Struck) -> bool:
    apart = math.dist(one.velocity_mps, other.velocity_mps)
    return abs(one.at_s - other.at_s) < _APART_S and apart < _APART_MPS


def _of_one(camera: Camera, at_s: float, place: Array, back: Back) -> _Drawn | None:
    """All ways from one place on the fed ball's way."""
    first, second = (_seen_in(camera, back, at_s, part) for part in (_FIRST_S, _SECOND_S))
    if not (len(first[0]) and len(second[0])):
        return None
    one, other = (each.ravel() for each in np.indices((len(first[0]), len(second[0]))))
    since = np.stack([first[0][one], second[0][other]], 1)
    towards = np.stack([first[1][one], second[1][other]], 1)
    velocity, off = _solved(camera, place, since, towards)
    kept = _likely(velocity) & (off < _OFF_PX * camera.width_px / 1280 / camera.focal_px)
    if not kept.any():
        return None
    count = int(kept.sum())
    return _Drawn(np.full(count, at_s), np.tile(place, (count, 1)), velocity[kept])


def _seen_in(
    camera: Camera, back: Back, at_s: float, part: tuple[float, float]
) -> tuple[Array, Array]:
    """Blobs of a few pictures: seconds since the racket (n,), and rays to them (n, 3)."""
    inside = np.flatnonzero((back.times_s >= at_s + part[0]) & (back.times_s < at_s + part[1]))
    inside = inside[[len(back.blobs[one]) > 0 for one in inside.tolist()]]
    spaced = np.unique(np.linspace(0, max(len(inside) - 1, 0), _PICTURES).astype(int))
    times, px = [np.empty(0)], [np.empty((0, 2))]
    for one in inside[spaced[: len(inside)]].tolist():
        middles = back.blobs[one].middle_px[:_MOST_BLOBS]
        times.append(back.times_s[one] + camera.row_time_s * middles[:, 1] - at_s)
        px.append(middles)
    return np.concatenate(times), ray(camera, np.concatenate(px))[1]


def _solved(camera: Camera, place: Array, since: Array, towards: Array) -> tuple[Array, Array]:
    """Velocities (n, 3) of balls that are on two rays (n, 2, 3) after (n, 2) seconds; and by how
    much they miss them, as an angle."""
    aside = np.cross(towards, [0.0, 0.0, 1.0])
    aside /= np.linalg.norm(aside, axis=-1, keepdims=True)
    across = np.stack([aside, np.cross(towards, aside)], 2)  # (n, 2 rays, 2 ways, 3)
    to_place = place + 0.5 * _WEIGHT * since[..., None] ** 2 - camera.position_m
    miss = -np.einsum("nrwk,nrk->nrw", across, to_place)
    speed = np.full((len(since), 1), 20.0)
    for _ in range(3):
        rows = across * _gone(speed, since)[..., None, None]
        rows_, miss_ = rows.reshape(-1, 4, 3), miss.reshape(-1, 4)
        pull = np.einsum("nek,nel->nkl", rows_, rows_) + 1e-6 * np.eye(3)
        velocity = np.linalg.solve(pull, np.einsum("nek,ne->nk", rows_, miss_)[..., None])[..., 0]
        speed = np.clip(np.linalg.norm(velocity, axis=1, keepdims=True), 3.0, 60.0)
    left = np.einsum("nek,nk->ne", rows_, velocity) - miss_
    off_m = np.linalg.norm(left.reshape(-1, 2, 2), 2, 2)
    far_m = np.linalg.norm(to_place + _gone(speed, since)[..., None] * velocity[:, None], axis=2)
    return velocity, (off_m / np.maximum(far_m, 0.5)).max(1)


def _gone(speed: Array, since: Array) -> Array:
    """Metres of the way for each m/s of its beginning."""
    return np.asarray(np.log1p(_DRAG_PER_M * speed * since) / (_DRAG_PER_M * speed))


def _likely(velocity: Array) -> Mask:
    vx, vy, vz = velocity.T
    speed = np.linalg.norm(velocity, axis=1)
    up = np.degrees(np.arctan2(vz, np.hypot(vx, vy)))
    aside = np.degrees(np.arctan2(vx, -vy))
    found: Mask = np.ones(len(velocity), bool)
    for value, (least, most) in ((speed, SPEED_MPS), (up, UP_DEG), (aside, ASIDE_DEG)):
        found &= (value > least) & (value < most)
    return found


def _scores(camera: Camera, drawn: _Drawn, back: Back) -> Array:
    """How much is seen along each."""
    near_px = _NEAR_PX * camera.width_px / 1280
    times = back.times_s + camera.row_time_s * camera.height_px / 2
    scores = np.zeros(len(drawn.at_s))
    for time_s, blobs in zip(times.tolist(), back.blobs, strict=True):
        if not len(blobs):
            continue
        on = np.flatnonzero((drawn.at_s + _FIRST_S[0] <= time_s) & (drawn.at_s + _UNTIL_S > time_s))
        places = drawn.some(on).places(np.array([time_s]))[:, 0]
        off = ((project(camera, places)[:, None] - blobs.middle_px) ** 2).sum(-1).min(1)
        off[places[:, 2] < 0] = np.inf  # it came down before: this start is blind to what follows
        scores[on] += np.exp(-np.nan_to_num(off, nan=np.inf) / (2 * near_px**2))
    return scores
