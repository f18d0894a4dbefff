"""The picture of a court with nobody on it: one ray through every part of every pixel.

Lines are covered by area, not drawn: each part of a pixel takes the share of its own footprint on
the ground that lies on paint, so that edges stand where they should to a small part of a pixel.
"""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.court import (
    BAND_M,
    FENCE_HIGH_M,
    POST_M,
    POST_OVER_CORD_M,
    STRAP_M,
    Ground,
    Strip,
)
from tests.watch.scene.lens import Lens
from tests.watch.scene.recipe import Look

Floats = NDArray[np.float32]
PARTS = 2  # of a pixel, each way
ROWS = 60  # painted at a time
MESH_SHARE = 0.3  # of a net's area that is twine; common practice (45 mm squares), no source
MESH, BAND, POST = (34, 36, 38), (222, 222, 218), (30, 62, 44)
TREES, TREES_HIGH = (52, 74, 44), 0.16  # rise over distance


class Still(msgspec.Struct, frozen=True, eq=False):
    """The empty picture with a margin all round, and how much the net hides of what is behind."""

    colours: NDArray[np.uint8]  # (height, width, 3): luma, and the two chroma planes at its size
    net: Floats  # (height, width), 0 free to 1 hidden
    margin_px: int


class _Rays(msgspec.Struct, eq=False):
    """Where parts of pixels look: from one place, along directions (rows, columns)."""

    eye: Floats
    dx: Floats
    dy: Floats
    dz: Floats


def _share(low: float, high: float, at: Floats, wide: Floats) -> Floats:
    """Of a footprint of this width around a place, the share between low and high."""
    half = wide / 2
    covered = np.minimum(at + half, high) - np.maximum(at - half, low)
    return np.clip(covered / np.maximum(wide, 1e-6), 0.0, 1.0)


def _width(at: Floats) -> Floats:
    """How far one part of a pixel reaches along an axis of the ground."""
    down, across = np.gradient(at)
    return np.sqrt(down * down + across * across)


def _mix(under: Floats, over: Floats | tuple[float, ...], share: Floats) -> None:
    under += share[..., None] * (np.asarray(over, np.float32) - under)


def weave(random: np.random.Generator, size: int = 512) -> Floats:
    """A tile of unevenness, mean 0, standard deviation 1, that meets itself at its edges."""
    total = np.zeros((size, size), np.float32)
    for coarse, weight in ((1, 0.6), (4, 0.5), (16, 0.45), (64, 0.4)):
        small = random.standard_normal((size // coarse, size // coarse)).astype(np.float32)
        wrapped = cv2.copyMakeBorder(small, 2, 2, 2, 2, cv2.BORDER_WRAP)
        large = cv2.resize(wrapped, None, fx=coarse, fy=coarse, interpolation=cv2.INTER_LINEAR)
        total += weight * large[2 * coarse :, 2 * coarse :][:size, :size]
    return (total - total.mean()) / total.std()


def _sampled(tile: Floats, u: Floats, v: Floats) -> Floats:
    """The tile, laid again and again, at places in its own steps; u, v (rows, columns)."""
    size = np.float32(tile.shape[0])
    return cv2.remap(
        tile,
        np.mod(u, size).astype(np.float32),
        np.mod(v, size).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_WRAP,
    )


class Painter:
    """Paints the empty court as a lens sees it."""

    def __init__(self, ground: Ground, look: Look, seed: int) -> None:
        self.ground, self.look = ground, look
        random = np.random.default_rng((seed, 1))
        self.tile = weave(random)
        self.spots = self._old_marks(random)

    def _old_marks(self, random: np.random.Generator) -> Floats:
        """(n, 4): x, y, half width, half length."""
        ground, count = self.ground, self.look.marks
        x = random.uniform(-ground.half_wide_m, ground.half_wide_m, count)
        y = random.uniform(-ground.fence_y_m + 2, ground.fence_y_m - 2, count)
        size = random.uniform((0.02, 0.03), (0.05, 0.12), (count, 2))
        return np.column_stack([x, y, size]).astype(np.float32)

    def paint(self, lens: Lens, soft_px: float = 0.0, margin_px: int = 0) -> Still:
        """``soft_px`` is the lens's blur: it falls on the picture before pixels gather it."""
        width, height = lens.width + 2 * margin_px, lens.height + 2 * margin_px
        colours = np.empty((height * PARTS, width * PARTS, 3), np.float32)
        net = np.empty((height * PARTS, width * PARTS), np.float32)
        for top in range(0, height, ROWS):
            rows = min(ROWS, height - top)
            some = slice(top * PARTS, (top + rows) * PARTS)
            colours[some], net[some] = self._fine(self._rays(lens, top, rows, width, margin_px))
        if soft_px:
            colours = cv2.GaussianBlur(colours, (0, 0), soft_px * PARTS)
            net = cv2.GaussianBlur(net, (0, 0), soft_px * PARTS)
        colours, net = (
            cv2.resize(each, (width, height), interpolation=cv2.INTER_AREA)
            for each in (colours, net)
        )
        return Still(self._through_the_lens(colours), net, margin_px)

    def _rays(self, lens: Lens, top: int, rows: int, width: int, margin: int) -> _Rays:
        parts = (np.arange(PARTS) + 0.5) / PARTS - 0.5
        u = (np.arange(width)[:, None] + parts).ravel() - margin
        v = (np.arange(top, top + rows)[:, None] + parts).ravel() - margin
        x, y = np.meshgrid(
            (u - lens.centre_px[0]) / lens.focal_px, (v - lens.centre_px[1]) / lens.focal_px
        )
        x, y = lens.unbend(x.astype(np.float32), y.astype(np.float32))
        turn = lens.turn().astype(np.float32)
        d = [turn[0, axis] * x + turn[1, axis] * y + turn[2, axis] for axis in range(3)]
        return _Rays(np.asarray(lens.position_m, np.float32), *d)

    def _fine(self, rays: _Rays) -> tuple[Floats, Floats]:
        picture = self._distance(rays)
        self._fences(picture, rays)
        reach = np.where(rays.dz < -1e-4, -rays.eye[2] / np.minimum(rays.dz, -1e-4), np.inf)
        x, y = rays.eye[0] + reach * rays.dx, rays.eye[1] + reach * rays.dy
        ground = self.ground
        near = (np.abs(x) < ground.fence_x_m) & (np.abs(y) < ground.fence_y_m)
        if near.any():
            rows = np.flatnonzero(near.any(1))
            some = slice(max(rows[0] - 1, 0), rows[-1] + 2)  # widths take two rows at least
            painted = self._floor(
                np.nan_to_num(x[some], posinf=1e4, neginf=-1e4),
                np.nan_to_num(y[some], posinf=1e4, neginf=-1e4),
            )
            picture[some] = np.where(near[some][..., None], painted, picture[some])
        return picture, self._net(picture, rays, reach)

    def _distance(self, rays: _Rays) -> Floats:
        """Sky, a row of trees, and the ground beyond the fence."""
        rise = rays.dz / np.hypot(rays.dx, rays.dy)
        bearing = np.abs(np.arctan2(rays.dx, rays.dy))  # both sides alike: no seam at the back
        rough = _sampled(self.tile, bearing * 700, rise * 900)
        top = TREES_HIGH + 0.03 * self._tree_tops(bearing)
        picture = np.empty((*rise.shape, 3), np.float32)
        sky = np.asarray(self.look.sky, np.float32)
        picture[:] = sky * (1.06 - 0.25 * np.clip(rise, 0, 0.6))[..., None]
        trees = np.asarray(TREES, np.float32) * self.look.light * (1 + 0.22 * rough)[..., None]
        beyond = np.asarray(self.look.around, np.float32) * (0.8 * self.look.light)
        _mix(picture, trees, np.clip((top - rise) * 300, 0, 1))
        _mix(picture, beyond, np.clip(-rise * 600, 0, 1))
        return picture

    def _tree_tops(self, bearing: Floats) -> Floats:
        """How far a tree stands over the others, or leaves do over their tree."""
        turns = np.arange(512) / 60
        crowns = np.interp(bearing * 0.5 + 4, turns, cv2.blur(self.tile[7:8], (9, 1))[0] * 1.8)
        leaves = np.interp((bearing * 9) % 8, turns, self.tile[21])
        return (crowns + 0.12 * leaves).astype(np.float32)

    def _fences(self, picture: Floats, rays: _Rays) -> None:
        """Wind screens on posts, and wire above; a camera outside looks through the near one."""
        eye, ground = rays.eye, self.ground
        for axis, most in ((0, ground.fence_x_m), (1, ground.fence_y_m)):
            for wall in (-most, most):
                along = (rays.dx, rays.dy)[axis]
                if abs(eye[axis]) >= most and np.sign(wall) == np.sign(eye[axis]):
                    continue
                with np.errstate(divide="ignore", invalid="ignore"):
                    reach = (wall - eye[axis]) / along
                    z = eye[2] + reach * rays.dz
                    other = eye[1 - axis] + reach * (rays.dy, rays.dx)[axis]
                    limit = (ground.fence_y_m, ground.fence_x_m)[axis]
                    hit = (reach > 0) & (z > 0) & (z < FENCE_HIGH_M) & (np.abs(other) < limit)
                if hit.any():
                    self._screen(picture, hit, other[hit], z[hit])

    def _screen(self, picture: Floats, hit: NDArray[np.bool_], along: Floats, z: Floats) -> None:
        rough = self.tile[(along * 40).astype(int) % 512, (z * 40).astype(int) % 512]
        fold = np.sin(along * 2.1) * 0.05
        colour = np.asarray(self.look.fence, np.float32) * self.look.light
        shaded = colour * (1 + 0.05 * rough + fold)[:, None]
        post = np.abs((along + 1.5) % 3.0 - 1.5) < 0.03
        shaded[post] = np.array((96, 100, 98), np.float32) * self.look.light
        picture[hit] = shaded

    def _floor(self, x: Floats, y: Floats) -> Floats:
        look, ground = self.look, self.ground
        wide_x, wide_y = _width(x), _width(y)
        picture = np.empty((*x.shape, 3), np.float32)
        picture[:] = look.around
        inside = Strip(
            -ground.half_wide_m, ground.half_wide_m, -ground.half_long_m, ground.half_long_m
        )
        _mix(picture, look.court, self._covered(inside, x, y, wide_x, wide_y))
        if look.striped_m:
            stripe = np.sign(np.sin(np.pi * y / look.striped_m)).astype(np.float32)
            picture *= (1 + 0.06 * stripe)[..., None]
        rough = self._roughness(x, y, wide_x, wide_y)
        picture += (look.grain * rough)[..., None]
        paint = np.zeros_like(x)
        for strip in ground.strips():
            np.maximum(paint, self._covered(strip, x, y, wide_x, wide_y), out=paint)
        worn = np.clip(1 - look.dusty * (1 + 0.6 * rough), 0, 1)
        _mix(picture, look.line, paint * worn)
        for spot in self.spots:
            self._smudge(picture, spot, x, y)
        return picture * (look.light * self._shade(x, y))[..., None]

    @staticmethod
    def _covered(strip: Strip, x: Floats, y: Floats, wide_x: Floats, wide_y: Floats) -> Floats:
        across = _share(strip.west, strip.east, x, wide_x)
        return across * _share(strip.south, strip.north, y, wide_y)

    def _roughness(self, x: Floats, y: Floats, wide_x: Floats, wide_y: Floats) -> Floats:
        """Fine grain that a far footprint averages away, over patches that it does not."""
        fine = _sampled(self.tile, x * 60, y * 60)
        patch = _sampled(self.tile, x * 9 + 77, y * 9)
        return 0.7 * fine * np.minimum(1, 0.017 / np.maximum(wide_x, wide_y)) + 0.5 * patch * (
            np.minimum(1, 0.11 / np.maximum(wide_x, wide_y))
        )

    @staticmethod
    def _smudge(picture: Floats, spot: Floats, x: Floats, y: Floats) -> None:
        close = (np.abs(x - spot[0]) < spot[2]) & (np.abs(y - spot[1]) < spot[3])
        if close.any():
            far = ((x[close] - spot[0]) / spot[2]) ** 2 + ((y[close] - spot[1]) / spot[3]) ** 2
            picture[close] *= (1 - 0.16 * np.clip(1.5 * (1 - far), 0, 1))[:, None]

    def _shade(self, x: Floats, y: Floats) -> Floats:
        """Light that is left where trees stand in the sun."""
        light = np.ones_like(x)
        for middle_x, middle_y, half_x, half_y in self.look.shadows:
            ragged = 0.12 * _sampled(self.tile, x * 14, y * 14)
            far = np.hypot((x - middle_x) / half_x, (y - middle_y) / half_y) + ragged
            inside = np.clip((1 - far) * 12, 0, 1)
            light = np.minimum(light, 1 - (1 - self.look.shade) * inside)
        return light

    def _net(self, picture: Floats, rays: _Rays, reach: Floats) -> Floats:
        """Mesh, band, strap and posts onto the picture; and how much of each place they hide."""
        eye, ground = rays.eye, self.ground
        hides = np.zeros(rays.dx.shape, np.float32)
        with np.errstate(divide="ignore", invalid="ignore"):
            to_net = -eye[1] / rays.dy
            x, z = eye[0] + to_net * rays.dx, eye[2] + to_net * rays.dz
        close = (to_net > 0) & (z < 1.3) & (z > -0.1) & (np.abs(x) < ground.post_m + 0.2)
        rows = np.flatnonzero(close.any(1))
        if rows.size < 2:
            return hides
        some = slice(rows[0], rows[-1] + 1)
        part, hidden, x, z = picture[some], hides[some], x[some], z[some]
        inside = close[some]
        tall, wide = _width(z), _width(x)
        above = z - ground.cord_m(x).astype(np.float32)
        across = _share(-ground.post_m, ground.post_m, x, wide)
        for low, high, colour, share in (
            (-5.0, -BAND_M, MESH, MESH_SHARE),
            (-BAND_M, 0.0, BAND, 1.0),
        ):
            over = _share(low, high, above, tall) * across * (z > 0) * inside
            self._cover(part, hidden, colour, over * np.float32(share))
        strap = _share(-STRAP_M / 2, STRAP_M / 2, x, wide) * _share(-5, 0, above, tall)
        self._cover(part, hidden, BAND, strap * (z > 0) * inside)
        top = ground.cord_post_m + POST_OVER_CORD_M
        for side in (-ground.post_m, ground.post_m):
            post = _share(side - POST_M / 2, side + POST_M / 2, x, wide) * _share(0, top, z, tall)
            self._cover(part, hidden, POST, post * inside)
        return hides

    def _cover(
        self, picture: Floats, hides: Floats, colour: tuple[float, ...], share: Floats
    ) -> None:
        _mix(picture, np.asarray(colour, np.float32) * self.look.light, share)
        hides += share * (1 - hides)

    def _through_the_lens(self, picture: Floats) -> NDArray[np.uint8]:
        if self.look.veil:
            u = np.linspace(-1, 1, picture.shape[1], dtype=np.float32)
            v = np.linspace(-1, 1, picture.shape[0], dtype=np.float32)[:, None]
            glare = np.exp(-((u - 0.35) ** 2 + (v + 1.1) ** 2) / 0.9)
            picture = picture + (self.look.veil * (0.35 + glare))[..., None]
        luma = picture @ np.array((0.299, 0.587, 0.114), np.float32)
        chroma = [128 + 0.564 * (picture[..., 2] - luma), 128 + 0.713 * (picture[..., 0] - luma)]
        return np.clip(np.stack([luma, *chroma], axis=-1) + 0.5, 0, 255).astype(np.uint8)
