"""From a recipe to the frames of a film, and to what was true in them.

The empty court is painted once. Of each frame only the patches that something moves through are
drawn again; with a camera that moves, the painted court is turned as the camera is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.drawing import Artist, Net
from tests.watch.scene.flying import Flight
from tests.watch.scene.handling import CELL, Sight, Turning
from tests.watch.scene.picture import Picture, painted
from tests.watch.scene.recipe import CLOUD_S, Scene
from tests.watch.scene.truth import Truth, truth_of

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]
LAMPS_HZ = 100.0  # lamps on a 50 Hz mains


class Film(msgspec.Struct, frozen=True, eq=False):
    """Frames are drawn anew each time they are asked for."""

    scene: Scene
    truth: Truth

    def frames(self) -> Iterator[Grey]:
        """Grey, (height, width), 0 to 255."""
        return (picture.luma for picture in Studio(self.scene, self.truth).pictures())

    def colour_frames(self) -> Iterator[Picture]:
        """Luma, and two chroma planes of half the size (full range)."""
        return Studio(self.scene, self.truth, colour=True).pictures()


def render(scene: Scene) -> Film:
    """The film of a scene: its truth now, its frames as they are asked for."""
    return Film(scene, truth_of(scene))


class Studio:
    """All that lasts from frame to frame."""

    def __init__(self, scene: Scene, truth: Truth, *, colour: bool = False) -> None:
        self.scene, self.truth, shooting = scene, truth, scene.shooting
        self.sight = Sight(shooting, scene.seed)
        self.margin = margin = self.sight.handling.margin_px(scene.duration_s)
        look = msgspec.structs.replace(scene.look, flicker=0.0, cloud=0.0)
        lens = shooting.lens
        still = painted(scene.ground, look, scene.seed, lens, shooting.soft_px, margin)
        self.net = still.net
        planes = [np.ascontiguousarray(still.colours[..., which]) for which in range(3)]
        halves = [cv2.resize(p, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA) for p in planes]
        self.base = Picture(planes[0], tuple(halves[1:]) if colour else ())
        self.artist = Artist(scene, self.sight)
        self.turning = None if self.sight.handling.still else Turning(self.sight, margin)
        self.grain = Grain((lens.width, lens.height), shooting.noise, scene.seed)
        self.floor = self._floor_artist()
        self.to_leave = sorted(self._left_on_the_ground(), key=lambda each: each[0])

    def _floor_artist(self) -> Artist:
        """Draws onto the painted court itself, margin and all, as the camera stood at first."""
        lens, margin = self.scene.shooting.lens, self.margin
        wide = msgspec.structs.replace(
            lens,
            centre_px=(lens.centre_px[0] + margin, lens.centre_px[1] + margin),
            width=lens.width + 2 * margin,
            height=lens.height + 2 * margin,
        )
        held = msgspec.structs.replace(
            self.scene.shooting,
            lens=wide,
            shake_px=0.0,
            drift_px_per_min=(0.0, 0.0),
            knock_s=None,
            row_time_s=0.0,
        )
        return Artist(self.scene, Sight(held, self.scene.seed))

    def _left_on_the_ground(self) -> Iterator[tuple[float, Callable[[], None]]]:
        """When something comes to stay: marks of bounces, and balls that lie still."""
        for flight in (*self.scene.flights, *self.scene.others):
            if not flight.taken:
                yield float(flight.times_s[-1]), lambda flight=flight: self._lies(flight)
            for bounce in flight.bounces() if self.scene.look.soft_ground else ():
                along = flight.velocity(bounce.at_s)
                long_m = 0.05 + 0.002 * bounce.speed_mps
                yield (
                    bounce.at_s,
                    lambda place=bounce.place_m, along=along, long_m=long_m: self.floor.mark(
                        self.base, np.array(place), along, long_m
                    ),
                )

    def _lies(self, flight: Flight) -> None:
        at_s = float(flight.times_s[-1])
        self.floor.ball_shadow(self.base, flight, at_s)
        self.floor.ball(self.base, flight, at_s, _part_of(self.net, None))

    def pictures(self) -> Iterator[Picture]:
        for opens_s in self.truth.times_s.tolist():
            yield self.picture(opens_s)

    def picture(self, opens_s: float) -> Picture:
        """As the sensor gives it. Times must not go back."""
        self.leave(opens_s)
        picture = self.drawn(opens_s)
        return Picture(self.grain.fall_on(picture.luma), picture.chroma)

    def leave(self, opens_s: float) -> None:
        """What has come to stay by then becomes part of the court."""
        while self.to_leave and self.to_leave[0][0] <= opens_s:
            self.to_leave.pop(0)[1]()

    def drawn(self, opens_s: float) -> Picture:
        """Without the sensor's noise."""
        picture, net = self._ground(opens_s)
        self._draw(picture, opens_s, net)
        self._light(picture, opens_s)
        return picture

    def _ground(self, opens_s: float) -> tuple[Picture, Net]:
        """The empty court as the camera is turned now, and what the net hides."""
        if self.turning is None:
            return self.base.copied(), _part_of(self.net, None)
        lens, nodes = self.sight.lens, self.turning.nodes(opens_s)
        source = _between(nodes, lens.width, lens.height, CELL)
        luma = cv2.remap(self.base.luma, source, None, cv2.INTER_LINEAR)
        half = ()
        if self.base.chroma:
            less = _between((nodes + 0.5) / 2 - 0.5, lens.width // 2, lens.height // 2, CELL // 2)
            half = tuple(cv2.remap(p, less, None, cv2.INTER_LINEAR) for p in self.base.chroma)
        return Picture(luma, half), _part_of(self.net, source)

    def _draw(self, picture: Picture, opens_s: float, net: Net) -> None:
        """Shadows first, then whatever is farther before what is nearer."""
        scene, artist = self.scene, self.artist
        shut_s = opens_s + scene.shooting.exposure_s
        flying = [
            flight
            for flight in (*scene.flights, *scene.others)
            if flight.times_s[0] < shut_s and opens_s < flight.times_s[-1]
        ]
        acts: list[tuple[float, Callable[[], None]]] = []
        eye = np.array(scene.shooting.lens.position_m)
        for flight in flying:
            artist.ball_shadow(picture, flight, opens_s)
            far = float(np.linalg.norm(flight.at(opens_s) - eye))
            acts.append((far, lambda it=flight: artist.ball(picture, it, opens_s, net)))
        for person in scene.people:
            artist.person_shadow(picture, person, opens_s)
            far = float(np.linalg.norm(np.append(person.at(opens_s)[0], 1.0) - eye))
            acts.append((far, lambda it=person: artist.person(picture, it, opens_s, net)))
        for bird in scene.birds:
            far = float(np.linalg.norm(bird.at(opens_s) - eye))
            acts.append((far, lambda it=bird: artist.bird(picture, it, opens_s)))
        for _, act in sorted(acts, key=lambda each: -each[0]):
            act()

    def _light(self, picture: Picture, opens_s: float) -> None:
        """Clouds, and lamps that swing while the shutter is open."""
        look, shooting = self.scene.look, self.scene.shooting
        if not (look.cloud or look.flicker):
            return
        luma = picture.luma
        passing = 1 - look.cloud / 2 * (1 - math.cos(2 * math.pi * opens_s / CLOUD_S))
        rows = np.arange(luma.shape[0]) if shooting.row_time_s else np.zeros(1)
        middles = opens_s + shooting.row_time_s * rows + shooting.exposure_s / 2
        depth = look.flicker * np.sinc(LAMPS_HZ * shooting.exposure_s)
        gain = passing * (1 + depth * np.cos(2 * math.pi * LAMPS_HZ * middles))
        for plane in picture.chroma:
            mean = float(gain.mean())
            cv2.convertScaleAbs(plane, plane, mean, 128 * (1 - mean))
        if gain.size == 1:
            cv2.convertScaleAbs(luma, luma, float(gain[0]))
        else:
            fixed = np.clip(gain * 128, 0, 255).astype(np.uint16)
            luma[:] = np.minimum(luma * fixed[:, None] >> 7, 255)


def _between(nodes: NDArray[np.float32], width: int, height: int, cell: int) -> NDArray[np.float32]:
    """(height, width, 2) sources of all pixels from those of a coarse grid."""
    size = (nodes.shape[1] * cell, nodes.shape[0] * cell)
    every = cv2.resize(nodes, size, interpolation=cv2.INTER_LINEAR)
    return every[cell : cell + height, cell : cell + width]


def _part_of(net: NDArray[np.float32], source: NDArray[np.float32] | None) -> Net:
    """What the net hides in a part of a frame, wherever the camera is turned to."""

    def part(left: int, top: int, rows: int, columns: int) -> NDArray[np.float32]:
        some = np.s_[top : top + rows, left : left + columns]
        if source is None:
            return net[some]
        return cv2.remap(net, source[some], None, cv2.INTER_LINEAR)

    return part


class Grain:
    """A sensor's noise: one large sheet of it, another cut of which falls on each frame."""

    def __init__(self, size: tuple[int, int], sigma: float, seed: int) -> None:
        self.random = np.random.default_rng((seed, 3))
        self.size, self.room, self.sigma = size, 96, sigma
        shape = (size[1] + self.room, size[0] + self.room)
        sheet = self.random.standard_normal(shape, np.float32)
        sheet = cv2.GaussianBlur(sheet, (3, 3), 0.5)
        self.sheet = np.round(sheet * np.float32(sigma / sheet.std())).astype(np.int8)

    def fall_on(self, picture: Grey) -> Grey:
        return cv2.add(picture, self.cut(), dtype=cv2.CV_8U) if self.sigma else picture

    def cut(self) -> NDArray[np.int8]:
        """Another cut of the sheet, as large as a frame."""
        down, across = self.random.integers(0, self.room, 2)
        return self.sheet[down : down + self.size[1], across : across + self.size[0]]
