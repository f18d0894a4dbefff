"""From a recipe to the frames of a film, and to what was true in them.

The empty court is painted once. Of each frame only the patches that something moves through are
drawn again; with a camera that moves, the painted court is turned as the camera is.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.court import GROUNDS
from tests.watch.scene.flying import Flight, Touch
from tests.watch.scene.lens import Lens
from tests.watch.scene.recipe import Scene
from tests.watch.scene.still import Painter
from tests.watch.scene.streaks import samples, streak

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]


class Track(msgspec.Struct, frozen=True, eq=False):
    """Where one ball stood in the frames that it is in; one row a frame."""

    frame: NDArray[np.int64]
    middle_px: Array  # (n, 2) at the middle of the exposure
    opened_px: Array  # (n, 2) as the shutter opened
    shut_px: Array  # (n, 2) as it shut
    radius_px: Array
    seen: Array  # share that nothing hides: net, people


class BallTruth(msgspec.Struct, frozen=True, eq=False):
    """What became of one ball; times are the film's, places the court's."""

    flight: Flight
    landing_m: tuple[float, float] | None  # first bounce
    bounce: Touch | None
    track: Track


class Truth(msgspec.Struct, frozen=True, eq=False):
    lens: Lens
    times_s: Array  # of each frame: as the first row's shutter opens
    exposure_s: float
    row_time_s: float
    balls: tuple[BallTruth, ...]


class Film(msgspec.Struct, frozen=True, eq=False):
    """``frames()`` draws them anew each time it is called: grey, (height, width), 0 to 255."""

    scene: Scene
    truth: Truth

    def frames(self) -> Iterator[Grey]:
        return _frames(self.scene, self.truth)


def frame_times(scene: Scene) -> Array:
    """When each frame's shutter opens; a variable rate strays but never goes back."""
    shooting = scene.shooting
    count = round(scene.duration_s * shooting.rate_hz)
    random = np.random.default_rng((scene.seed, 2))
    gaps = 1 / shooting.rate_hz + random.normal(0, shooting.uneven_s, count) * (
        shooting.uneven_s > 0
    )
    least = 0.4 / shooting.rate_hz
    return np.concatenate([[0.0], np.cumsum(np.maximum(gaps, least))[:-1]])


def seen_at(lens: Lens, flight: Flight, times_s: Array, row_time_s: float) -> tuple[Array, Array]:
    """Pixels (n, 2) and distances (n,) at times counted from the first row's; later rows later."""
    pixels, far = lens.project(flight.at(times_s))
    if row_time_s:
        for _ in range(3):
            rows = np.clip(pixels[..., 1], 0, lens.height)
            pixels, far = lens.project(flight.at(times_s + row_time_s * rows))
    return pixels, far


def _track(scene: Scene, flight: Flight, times_s: Array) -> Track:
    shooting = scene.shooting
    lens, open_s = shooting.lens, shooting.exposure_s
    parts = [
        seen_at(lens, flight, times_s + share * open_s, shooting.row_time_s)
        for share in (0.5, 0.0, 1.0)
    ]
    (middle, far), (opened, _), (shut, _) = parts
    there = (times_s + open_s > flight.times_s[0]) & (far > 0.3)
    there &= ((middle > -2) & (middle < (lens.width + 1, lens.height + 1))).all(-1)
    chosen = np.flatnonzero(there)
    radius = lens.focal_px * flight.ball.radius_m / far[chosen]
    return Track(chosen, middle[chosen], opened[chosen], shut[chosen], radius, np.ones(len(chosen)))


def _truth(scene: Scene) -> Truth:
    times, balls = frame_times(scene), []
    for flight in scene.flights:
        first = next(iter(flight.bounces()), None)
        landing = None if first is None else (first.place_m[0], first.place_m[1])
        balls.append(BallTruth(flight, landing, first, _track(scene, flight, times)))
    shooting = scene.shooting
    return Truth(shooting.lens, times, shooting.exposure_s, shooting.row_time_s, tuple(balls))


def _luma(colour: tuple[float, float, float]) -> float:
    return 0.299 * colour[0] + 0.587 * colour[1] + 0.114 * colour[2]


def _draw_ball(picture: Grey, scene: Scene, flight: Flight, opens_s: float) -> None:
    shooting = scene.shooting
    times = opens_s + np.array([0.0, shooting.exposure_s])
    ends, far = seen_at(shooting.lens, flight, times, shooting.row_time_s)
    if far.min() < 0.3:
        return
    radius = shooting.lens.focal_px * flight.ball.radius_m / float(far.mean())
    count = samples(float(np.linalg.norm(ends[1] - ends[0])), radius)
    times = opens_s + (np.arange(count) + 0.5) / count * shooting.exposure_s
    times = times[times >= flight.times_s[0]]
    if not times.size:
        return
    middles, _ = seen_at(shooting.lens, flight, times, shooting.row_time_s)
    size = (shooting.lens.width, shooting.lens.height)
    patch = streak(middles, radius, size, light_px=(0.0, -0.15))
    if patch is None:
        return
    part = len(times) / count
    rows, columns = patch.share.shape
    under = picture[patch.top : patch.top + rows, patch.left : patch.left + columns]
    colour = _luma(scene.look.ball) * scene.look.light
    mixed = under * (1 - part * patch.share) + part * colour * patch.lit
    under[:] = np.clip(mixed + 0.5, 0, 255)


class Grain:
    """A sensor's noise: one large sheet of it, another cut of which falls on each frame."""

    def __init__(self, size: tuple[int, int], sigma: float, seed: int) -> None:
        self.random = np.random.default_rng((seed, 3))
        self.size, self.room = size, 96
        shape = (size[1] + self.room, size[0] + self.room)
        sheet = self.random.standard_normal(shape, np.float32)
        sheet = cv2.GaussianBlur(sheet, (3, 3), 0.5)
        self.sheet = np.round(sheet * np.float32(sigma / sheet.std())).astype(np.int8)
        self.sigma = sigma

    def fall_on(self, picture: Grey) -> Grey:
        if not self.sigma:
            return picture
        down, across = self.random.integers(0, self.room, 2)
        cut = self.sheet[down : down + self.size[1], across : across + self.size[0]]
        return cv2.add(picture, cut, dtype=cv2.CV_8U)


def _frames(scene: Scene, truth: Truth) -> Iterator[Grey]:
    lens = scene.shooting.lens
    painter = Painter(GROUNDS[scene.court], scene.look, scene.seed)
    still = painter.paint(lens, scene.shooting.soft_px)
    empty = np.ascontiguousarray(still.colours[..., 0])
    grain = Grain((lens.width, lens.height), scene.shooting.noise, scene.seed)
    for opens_s in truth.times_s:
        picture = empty.copy()
        for flight in scene.flights:
            if opens_s + scene.shooting.exposure_s > flight.times_s[0]:
                _draw_ball(picture, scene, flight, float(opens_s))
        yield grain.fall_on(picture)


def render(scene: Scene) -> Film:
    """The film of a scene: its truth now, its frames as they are asked for."""
    return Film(scene, _truth(scene))
