"""What moves, drawn into a frame: balls and their shadows, people, birds, marks on clay."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Protocol

import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.flying import Flight
from tests.watch.scene.handling import Sight
from tests.watch.scene.people import Bird, Limb, Person
from tests.watch.scene.picture import Picture, capsules, in_planes
from tests.watch.scene.recipe import Look, Scene
from tests.watch.scene.streaks import samples, streak
from tests.watch.scene.truth import hidden_by_net

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
BIRD, SUN_WIDE = (40, 40, 44), 0.0093  # the sun's breadth, rad


def sunwards(look: Look) -> Array | None:
    """(3,) towards the sun."""
    if look.sun_deg is None:
        return None
    bearing, high = np.radians(look.sun_deg)
    flat = math.cos(high)
    return np.array([flat * math.sin(bearing), flat * math.cos(bearing), math.sin(high)])


def in_tree_shade(look: Look, place_m: Array) -> bool:
    return any(
        math.hypot((place_m[0] - x) / half_x, (place_m[1] - y) / half_y) < 1
        for x, y, half_x, half_y in look.shadows
    )


#: Left, top, rows and columns of a part of the frame to what the net hides there.
Net = Callable[[int, int, int, int], Floats]


class _Limbs(msgspec.Struct, frozen=True, eq=False):
    ends_px: Array  # (n, 2, 2)
    halves_px: Array  # (n, 2)
    wears: tuple[int, ...]


class _Way(Protocol):
    """What moves."""

    def at(self, times_s: Array) -> Array: ...


class _Passing(msgspec.Struct, frozen=True, eq=False):
    middles_px: Array  # (n, 2)
    radius_px: float
    part: float  # of the exposure in which it is there at all
    times_s: Array  # (n,)


class Artist:
    """Draws for one scene; ``net`` gives what the net hides in a part of the frame."""

    def __init__(self, scene: Scene, sight: Sight) -> None:
        self.scene, self.sight = scene, sight
        self.size = (sight.lens.width, sight.lens.height)
        self.sun = sunwards(scene.look)
        self.bright_px = self._bright_side()

    def _bright_side(self) -> tuple[float, float]:
        """Where in the picture a ball's bright side is, as long as the light is uneven on it."""
        if self.sun is None:
            return (0.0, -0.25)
        seen = self.sight.lens.turn() @ self.sun
        return (0.3 * float(seen[0]), 0.3 * float(seen[1]))

    def beyond_net(self, y_m: float) -> bool:
        return y_m * self.sight.lens.position_m[1] < 0

    def _during(self, opens_s: float, way: _Way, radius_m: float) -> _Passing | None:
        """How it goes while the shutter is open; None when it is not in the picture."""
        open_s = self.scene.shooting.exposure_s
        ends, far = self.sight.follow(way, opens_s + np.array([0.0, open_s]))
        if far.min() < 0.3:
            return None
        radius = self.sight.lens.focal_px * radius_m / float(far.mean())
        reach = np.array(self.size) + radius
        if (np.maximum(*ends) < -radius).any() or (np.minimum(*ends) > reach).any():
            return None
        count = samples(float(np.linalg.norm(ends[1] - ends[0])), radius)
        times = opens_s + (np.arange(count) + 0.5) / count * open_s
        if isinstance(way, Flight):
            times = times[times >= way.times_s[0]]
            times = times[times < way.times_s[-1]] if way.taken else times
        if not times.size:
            return None
        return _Passing(self.sight.follow(way, times)[0], radius, len(times) / count, times)

    def ball(
        self, picture: Picture, flight: Flight, opens_s: float, net: Net | None = None
    ) -> None:
        way = self._during(opens_s, flight, flight.ball.radius_m)
        if way is None:
            return
        patch = streak(way.middles_px, way.radius_px, self.size, light_px=self.bright_px)
        if patch is None:
            return
        place, look = flight.at(way.times_s[:1]), self.scene.look
        keep = np.float32(way.part)
        if net is not None and self._behind_net(place):
            keep = keep * (1 - net(patch.left, patch.top, *patch.share.shape))
        light = look.light * (look.shade + 0.1 if self._shaded(place[0]) else 1.0)
        picture.blend(patch, look.ball, keep, light)

    def _behind_net(self, places_m: Array) -> bool:
        """Whether the net may hide some of it: a little room round its edges."""
        low = places_m - (0.0, 0.0, 0.1)
        ground, lens = self.scene.ground, self.sight.lens
        return any(hidden_by_net(ground, lens, each).any() for each in (places_m, low))

    def _shaded(self, place_m: Array) -> bool:
        return self.sun is not None and in_tree_shade(self.scene.look, self._under(place_m))

    def _under(self, place_m: Array) -> Array:
        """Where on the ground the shadow of a place falls."""
        return place_m - self.sun * (place_m[2] / self.sun[2])

    def ball_shadow(self, picture: Picture, flight: Flight, opens_s: float) -> None:
        """An ellipse on the ground, paler the higher the ball, for the sun is no point."""
        if self.sun is None:
            return
        place = flight.at(opens_s + self.scene.shooting.exposure_s / 2)
        under, high = self._under(place), math.asin(self.sun[2])
        ground = self.scene.look
        if in_tree_shade(ground, under) or np.abs(under[:2]).max() > 30:
            return
        blurred = flight.ball.radius_m + place[2] / self.sun[2] * SUN_WIDE / 2
        pale = (flight.ball.radius_m / blurred) ** 2
        bearing = math.atan2(self.sun[0], self.sun[1])
        long, wide = blurred / math.sin(high), blurred
        axes = np.array(
            [
                [long * math.sin(bearing), long * math.cos(bearing), 0],
                [wide * math.cos(bearing), -wide * math.sin(bearing), 0],
            ]
        )
        self._spot(picture, under, axes, pale * (1 - ground.shade), opens_s)

    def _spot(
        self, picture: Picture, place_m: Array, axes_m: Array, depth: float, at_s: float
    ) -> None:
        """Darken an ellipse that lies on the ground: its middle (3,) and half axes (2, 3)."""
        places = np.vstack([place_m, place_m + axes_m])
        at, far = self.sight.project(places, np.full(3, at_s))
        if far.min() < 0.3:
            return
        shape = (at[1:] - at[0]).T
        area = abs(np.linalg.det(shape))
        if area < 0.02 or area > 1e4:
            return
        radius = math.sqrt(area)
        patch = streak(at[:1], radius, self.size, shape=shape / radius)
        if patch is not None:
            hides = hidden_by_net(self.scene.ground, self.sight.lens, place_m[None])[0]
            picture.darken(patch.left, patch.top, patch.share * np.float32(depth * (1 - hides)))

    def mark(self, picture: Picture, place_m: Array, along: Array, long_m: float) -> None:
        """What a bounce leaves on a soft ground."""
        ahead = np.array([along[0], along[1], 0.0]) / np.linalg.norm(along[:2])
        axes = np.array([ahead * long_m / 2, np.array([ahead[1], -ahead[0], 0.0]) * 0.025])
        self._spot(picture, np.array([place_m[0], place_m[1], 0.0]), axes, 0.2, 0.0)

    def bird(self, picture: Picture, bird: Bird, opens_s: float) -> None:
        found = self._during(opens_s, bird, bird.span_m / 5)
        if found is None:
            return
        wing = 1.2 + abs(math.sin(math.pi * bird.flaps_hz * opens_s)) * 1.6
        shape = np.diag([wing, 0.5])
        patch = streak(found.middles_px, found.radius_px, self.size, shape=shape)
        if patch is not None:
            picture.blend(patch, BIRD, None, 1.0)

    def person(self, picture: Picture, person: Person, at_s: float, net: Net | None = None) -> None:
        limbs = self._limbs(person.limbs(at_s), at_s)
        box = None if limbs is None else self._box(limbs)
        if limbs is None or box is None:
            return
        left, top, right, bottom = box
        behind = net is not None and self.beyond_net(person.at(at_s)[0][1])
        mesh = net(left, top, bottom - top, right - left) if behind and net else None
        for plane, scale, which in self._planes(picture):
            part = plane[top // scale : bottom // scale, left // scale : right // scale]
            before = part.copy()
            light = self.scene.look.light
            values = [in_planes(person.colours[each], light)[which] for each in limbs.wears]
            ends = (limbs.ends_px - (left, top) + 0.5) / scale - 0.5
            capsules(part, ends, limbs.halves_px / scale, values)
            if mesh is not None:
                hides = mesh[::scale, ::scale]
                part[:] = before * hides + part * (1 - hides) + 0.5

    def _limbs(self, limbs: list[Limb], at_s: float) -> _Limbs | None:
        """Limbs in the picture; None when a part of them is behind the camera."""
        starts, ends, halves, wears = zip(*limbs, strict=True)
        places = np.stack([starts, ends], axis=1).reshape(-1, 3)
        at, far = self.sight.project(places, np.full(len(places), at_s))
        if far.min() < 0.5:
            return None
        halves_px = self.sight.lens.focal_px * np.repeat(halves, 2) / far
        return _Limbs(at.reshape(-1, 2, 2), halves_px.reshape(-1, 2), wears)

    @staticmethod
    def _planes(picture: Picture) -> list[tuple[NDArray[np.uint8], int, int]]:
        return [(picture.luma, 1, 0)] + [
            (plane, 2, which) for which, plane in enumerate(picture.chroma, 1)
        ]

    def _box(self, limbs: _Limbs) -> tuple[int, int, int, int] | None:
        """Even corners of the part of the frame that limbs touch."""
        at, half = limbs.ends_px, limbs.halves_px[..., None]
        low = np.maximum((at - half).min((0, 1)) - 3, 0)
        high = np.minimum((at + half).max((0, 1)) + 3, self.size)
        left, top = (int(each) for each in low // 2 * 2)
        right, bottom = (int(each) for each in high // 2 * 2)
        return None if right - left < 2 or bottom - top < 2 else (left, top, right, bottom)

    def person_shadow(self, picture: Picture, person: Person, at_s: float) -> None:
        sun = self.sun
        if sun is None or in_tree_shade(self.scene.look, person.at(at_s)[0]):
            return
        flat = [
            (start - sun * (start[2] / sun[2]), end - sun * (end[2] / sun[2]), half * 0.6, wears)
            for start, end, half, wears in person.limbs(at_s)
        ]  # a round limb's shadow is as flat as the ground is seen: about six tenths
        limbs = self._limbs(flat, at_s)
        box = None if limbs is None else self._box(limbs)
        if limbs is None or box is None:
            return
        left, top, right, bottom = box
        mask = np.zeros((bottom - top, right - left), np.uint8)
        capsules(mask, limbs.ends_px - (left, top), limbs.halves_px, [255.0] * len(limbs.wears))
        depth = (1 - self.scene.look.shade) / 255
        picture.darken(left, top, mask.astype(np.float32) * np.float32(depth))
