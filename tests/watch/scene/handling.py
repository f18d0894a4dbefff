"""How a camera is held: a hand that trembles, a tripod that settles, somebody who knocks it.

Turns only: a camera that is held moves by millimetres, of which a court shows nothing.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from tests.watch.scene.recipe import Shooting

Array = NDArray[np.float64]
TREMOR_HZ = (0.3, 9.0)  # what a hand does; no source
RING_HZ, RING_S = 7.0, 0.12  # how a knocked tripod rings, and how soon it has done


class Handling:
    """Where the camera is turned to, at any time."""

    def __init__(self, shooting: Shooting, seed: int) -> None:
        self.shooting, self.lens = shooting, shooting.lens
        random = np.random.default_rng((seed, 4))
        self.hertz = np.geomspace(*TREMOR_HZ, 14) * random.uniform(0.93, 1.07, 14)
        self.phase = random.uniform(0, 2 * math.pi, (3, 14))
        weight = self.hertz**-0.7
        self.weight = weight * math.sqrt(2) / np.linalg.norm(weight)

    @property
    def still(self) -> bool:
        shooting = self.shooting
        moved = (shooting.shake_px, *shooting.drift_px_per_min)
        return not any(moved) and shooting.knock_s is None

    def pixels(self, times_s: Array) -> Array:
        """(n, 3): how far the picture's middle has gone across and down, and its edge by roll."""
        shooting, times = self.shooting, np.atleast_1d(np.asarray(times_s, float))
        waves = np.sin(2 * math.pi * self.hertz * times[:, None, None] + self.phase)
        moved = shooting.shake_px * (waves @ self.weight) * (1.0, 1.0, 0.4)
        moved[:, :2] += np.multiply.outer(times / 60, shooting.drift_px_per_min)
        if shooting.knock_s is not None:
            since = np.maximum(times - shooting.knock_s, 0.0)
            rings = np.exp(-since / RING_S) * np.cos(2 * math.pi * RING_HZ * since)
            moved += np.multiply.outer((since > 0) * (1 - rings), shooting.knock_px)
        return moved

    def vectors(self, times_s: Array) -> Array:
        """(n, 3) rotation vectors on from the lens's own pose, in camera axes."""
        across, down, roll = self.pixels(times_s).T
        focal = self.lens.focal_px
        return np.column_stack([-down / focal, across / focal, roll / (self.lens.width / 2)])

    def turns(self, times_s: Array) -> Array:
        """(n, 3, 3) of the same."""
        return Rotation.from_rotvec(self.vectors(times_s)).as_matrix()

    def margin_px(self, duration_s: float) -> int:
        """How much of the court round the picture may come into it."""
        if self.still:
            return 0
        times = np.linspace(0, duration_s, 2000)
        return (int(np.abs(self.pixels(times)).sum(1).max()) + 6) // 2 * 2 + 2


class Sight:
    """Places to pixels at times: pose, hand and rolling shutter together."""

    def __init__(self, shooting: Shooting, seed: int) -> None:
        self.shooting, self.lens = shooting, shooting.lens
        self.handling = Handling(shooting, seed)

    def project(self, places_m: Array, times_s: Array) -> tuple[Array, Array]:
        """(n, 3) places at (n,) times to (n, 2) pixels and (n,) distances along the view."""
        if self.handling.still:
            return self.lens.project(places_m)
        return self.lens.project(places_m, self.handling.turns(times_s))

    def follow(self, way: object, times_s: Array) -> tuple[Array, Array]:
        """The same for what moves: ``way.at(times)``; times count from when the first row's do."""
        times = np.asarray(times_s, float)
        pixels, far = self.project(way.at(times), times)  # type: ignore[attr-defined]
        if self.shooting.row_time_s:
            for _ in range(3):
                rows = np.clip(pixels[:, 1], 0, self.lens.height)
                late = times + self.shooting.row_time_s * rows
                pixels, far = self.project(way.at(late), late)  # type: ignore[attr-defined]
        return pixels, far


CELL = 16  # pixels between places at which the turned picture is worked out exactly


class Turning:
    """Where in the painted court (margin and all) each pixel of a turned frame comes from."""

    def __init__(self, sight: Sight, margin_px: int) -> None:
        self.sight, self.margin, lens = sight, margin_px, sight.lens
        self.across, self.down = (-(-size // CELL) + 2 for size in (lens.width, lens.height))
        u = (np.arange(self.across) - 0.5) * CELL - 0.5
        v = (np.arange(self.down) - 0.5) * CELL - 0.5
        self.rows = v
        self.rays = lens.rays(np.stack(np.meshgrid(u, v), axis=-1))

    def nodes(self, opens_s: float) -> NDArray[np.float32]:
        """(down, across, 2): exact sources of a grid that reaches over the frame's edges."""
        shooting = self.sight.shooting
        times = opens_s + shooting.exposure_s / 2 + shooting.row_time_s * self.rows
        if not shooting.row_time_s:
            times = times[:1]
        turns = self.sight.handling.turns(times)  # back: transposed
        back = np.einsum("rji,rcj->rci", np.broadcast_to(turns, (self.down, 3, 3)), self.rays)
        source = self.sight.lens.to_pixels(back[..., 0] / back[..., 2], back[..., 1] / back[..., 2])
        return (source + self.margin).astype(np.float32)
