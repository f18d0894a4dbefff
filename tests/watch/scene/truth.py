"""What was true in a film: by it, and by nothing else, findings are judged."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.court import BAND_M, Ground
from tests.watch.scene.flying import Flight, Touch
from tests.watch.scene.handling import Sight
from tests.watch.scene.lens import Lens
from tests.watch.scene.people import Person
from tests.watch.scene.recipe import Scene
from tests.watch.scene.still import MESH_SHARE

Array = NDArray[np.float64]


class Track(msgspec.Struct, frozen=True, eq=False):
    """Where one ball stood in the frames that it moves in; one row a frame."""

    frame: NDArray[np.int64]
    middle_px: Array  # (n, 2) at the middle of the exposure
    opened_px: Array  # (n, 2) as the shutter opened
    shut_px: Array  # (n, 2) as it shut
    radius_px: Array
    seen: Array  # share of the ball that nothing hides: net, people

    def in_frame(self, frame: int) -> int | None:
        """The row of a frame; None when the ball is not in it."""
        row = int(np.searchsorted(self.frame, frame))
        return row if row < len(self.frame) and self.frame[row] == frame else None


class BallTruth(msgspec.Struct, frozen=True, eq=False):
    """What became of one ball; times are the film's, places the court's."""

    flight: Flight  # its ``launch`` has time, place, speed, direction and spin at the mouth
    landing_m: tuple[float, float] | None  # first bounce
    bounce: Touch | None
    track: Track


class Truth(msgspec.Struct, frozen=True, eq=False):
    lens: Lens  # as it stood at first
    times_s: Array  # of each frame: as the first row's shutter opens
    exposure_s: float
    row_time_s: float
    turns: Array  # (n, 3) rotation vectors, camera axes: how far the camera had turned on by then
    balls: tuple[BallTruth, ...]
    others: tuple[Track, ...]


def frame_times(scene: Scene) -> Array:
    """When each frame's shutter opens; a variable rate strays but never goes back."""
    shooting = scene.shooting
    count = round(scene.duration_s * shooting.rate_hz)
    random = np.random.default_rng((scene.seed, 2))
    stray = random.normal(0, 1, count) * shooting.uneven_s
    gaps = np.maximum(1 / shooting.rate_hz + stray, 0.4 / shooting.rate_hz)
    return np.concatenate([[0.0], np.cumsum(gaps)[:-1]])


def truth_of(scene: Scene) -> Truth:
    shooting, times = scene.shooting, frame_times(scene)
    sight = Sight(shooting, scene.seed)
    balls = []
    for flight in scene.flights:
        first = next(iter(flight.bounces()), None)
        landing = None if first is None else (first.place_m[0], first.place_m[1])
        balls.append(BallTruth(flight, landing, first, _track(scene, sight, flight, times)))
    return Truth(
        shooting.lens,
        times,
        shooting.exposure_s,
        shooting.row_time_s,
        sight.handling.vectors(times + shooting.exposure_s / 2),
        tuple(balls),
        tuple(_track(scene, sight, flight, times) for flight in scene.others),
    )


def _track(scene: Scene, sight: Sight, flight: Flight, times_s: Array) -> Track:
    lens, open_s = sight.lens, scene.shooting.exposure_s
    middle, far = sight.follow(flight, times_s + open_s / 2)
    there = (times_s + open_s > flight.times_s[0]) & (times_s < flight.times_s[-1]) & (far > 0.3)
    there &= ((middle > -2) & (middle < (lens.width + 1, lens.height + 1))).all(-1)
    chosen = np.flatnonzero(there)
    times, middle, far = times_s[chosen], middle[chosen], far[chosen]
    places = flight.at(times + open_s / 2)
    seen = 1 - hidden_by_net(scene.ground, lens, places)
    for person in scene.people:
        seen *= 1 - _hidden_by(person, sight, times + open_s / 2, middle, far)
    return Track(
        chosen,
        middle,
        sight.follow(flight, times)[0],
        sight.follow(flight, times + open_s)[0],
        lens.focal_px * flight.ball.radius_m / far,
        seen,
    )


def hidden_by_net(ground: Ground, lens: Lens, places_m: Array) -> Array:
    """(n,) share that mesh or band hides of places (n, 3)."""
    eye = np.array(lens.position_m)
    beyond = places_m[:, 1] * eye[1] < 0
    share = eye[1] / np.where(beyond, eye[1] - places_m[:, 1], 1.0)
    crossing = eye + share[:, None] * (places_m - eye)
    under = ground.cord_m(crossing[:, 0]) - crossing[:, 2]
    inside = beyond & (np.abs(crossing[:, 0]) < ground.post_m) & (under > 0)
    return inside * np.where(under < BAND_M, 1.0, MESH_SHARE)


def _hidden_by(
    person: Person, sight: Sight, times_s: Array, middle_px: Array, far_m: Array
) -> Array:
    """(n,) 1 where a ball's middle is behind a limb."""
    hidden = np.zeros(len(times_s))
    if not len(times_s):
        return hidden
    at, away = sight.project(person.middles(times_s), times_s)
    near = np.linalg.norm(at - middle_px, axis=1) * away < sight.lens.focal_px * person.height_m
    for row in np.flatnonzero(near & (away > 0.3) & (away < far_m)):
        at_s = times_s[row]
        for start, end, half_m, _ in person.limbs(at_s):
            (one, other), _ = sight.project(np.array([start, end]), np.full(2, at_s))
            along, off = other - one, middle_px[row] - one
            share = np.clip(off @ along / max(along @ along, 1e-9), 0, 1)
            if np.linalg.norm(off - share * along) < sight.lens.focal_px * half_m / away[row]:
                hidden[row] = 1.0
                break
    return hidden
