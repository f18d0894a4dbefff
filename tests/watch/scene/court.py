"""A court as the rules draw it, written down here once more and from the rules alone.

ITF Rules of Tennis (2024): Rule 1 "The court" for lengths, net, posts and lines (all measurements
to the outside of the lines; centre service line and centre mark 2 in wide, the others 1 to 2 in,
the baseline up to 4 in; centre mark 4 in long; strap at most 2 in wide; band 2 to 2.5 in deep on
each side; posts at most 6 in thick and at most 1 in over the cord; net cord 3 ft high in the middle
and 3.5 ft at the posts, whose centres stand 3 ft outside the court; mesh so small that no ball
passes); appendix "Plan of the court" for the room behind and beside it; appendix on 10-and-under
tennis for red and orange. The rules give red and orange no service line; theirs here keep the
full court's share (21 of 39 ft).
"""

from __future__ import annotations

from functools import lru_cache

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
INCH_M, FOOT_M = 0.0254, 0.3048
WIDE_LINE_M, NARROW_LINE_M, BASELINE_M = 2 * INCH_M, 1.6 * INCH_M, 3 * INCH_M
MARK_LONG_M = 4 * INCH_M
BAND_M, STRAP_M, POST_M = 2.4 * INCH_M, 2 * INCH_M, 4 * INCH_M
POST_OVER_CORD_M = 0.8 * INCH_M
FENCE_HIGH_M = 3.0  # common practice, no source


class Strip(msgspec.Struct, frozen=True):
    """A painted rectangle, from west to east and from south to north, metres."""

    west: float
    east: float
    south: float
    north: float

    def beside(self, by_m: float) -> Strip:
        """Moved across its length."""
        if self.north - self.south > self.east - self.west:
            return Strip(self.west + by_m, self.east + by_m, self.south, self.north)
        return Strip(self.west, self.east, self.south + by_m, self.north + by_m)


class Ground(msgspec.Struct, frozen=True, kw_only=True):
    """What is painted and what stands on one court; metres from the middle of the net."""

    half_long_m: float
    half_wide_m: float  # doubles where there are alleys
    singles_m: float | None  # half width between the singles lines, where there are alleys
    service_m: float
    cord_middle_m: float
    cord_post_m: float
    post_m: float  # from the middle to a post's centre
    behind_m: float = 18 * FOOT_M  # baseline to fence
    beside_m: float = 10 * FOOT_M
    narrow_m: float = NARROW_LINE_M
    baseline_m: float = BASELINE_M
    astray_m: tuple[float, ...] = ()  # by how much each of its lines lies beside its place

    def strips(self) -> tuple[Strip, ...]:
        """Every line of the court."""
        lines = self._lines()
        astray = self.astray_m or (0.0,) * len(lines)
        return tuple(line.beside(off) for line, off in zip(lines, astray, strict=True))

    def _lines(self) -> tuple[Strip, ...]:
        inner = self.singles_m if self.singles_m is not None else self.half_wide_m
        found = []
        for side in (self.half_wide_m, *([] if self.singles_m is None else [self.singles_m])):
            found += [
                Strip(side - self.narrow_m, side, -self.half_long_m, self.half_long_m),
                Strip(-side, -side + self.narrow_m, -self.half_long_m, self.half_long_m),
            ]
        half = WIDE_LINE_M / 2
        for end in (-1, 1):
            back = sorted((end * self.half_long_m, end * (self.half_long_m - self.baseline_m)))
            serve = sorted((end * self.service_m, end * (self.service_m - self.narrow_m)))
            mark = sorted((end * self.half_long_m, end * (self.half_long_m - MARK_LONG_M)))
            found += [
                Strip(-self.half_wide_m, self.half_wide_m, *back),
                Strip(-inner, inner, *serve),
                Strip(-half, half, *mark),
            ]
        return (*found, Strip(-half, half, -self.service_m, self.service_m))

    def cord_m(self, x_m: ArrayLike) -> Array:
        """Height of the net's upper edge; taut between strap and post."""
        share = np.minimum(np.abs(x_m) / self.post_m, 1.0)
        return self.cord_middle_m + (self.cord_post_m - self.cord_middle_m) * share

    @property
    def fence_x_m(self) -> float:
        return self.half_wide_m + self.beside_m

    @property
    def fence_y_m(self) -> float:
        return self.half_long_m + self.behind_m


FULL = Ground(
    half_long_m=39 * FOOT_M,
    half_wide_m=18 * FOOT_M,
    singles_m=13.5 * FOOT_M,
    service_m=21 * FOOT_M,
    cord_middle_m=3 * FOOT_M,
    cord_post_m=3.5 * FOOT_M,
    post_m=21 * FOOT_M,
)


def _stage(long_ft: float, wide_ft: float, cord_ft: float) -> Ground:
    return Ground(
        half_long_m=long_ft / 2 * FOOT_M,
        half_wide_m=wide_ft / 2 * FOOT_M,
        singles_m=None,
        service_m=long_ft / 2 * 21 / 39 * FOOT_M,
        cord_middle_m=cord_ft * FOOT_M,
        cord_post_m=cord_ft * FOOT_M,
        post_m=(wide_ft / 2 + 3) * FOOT_M,
    )


GROUNDS = {
    "full": FULL,
    "orange": _stage(60, 21, 3.0),
    "red": _stage(36, 18, 2.75),
}


#: How courts are built. Lines lie beside their places, by standard deviations of half of what the
#: ITF lets two of them be off (Technical Booklet 2015, p. 53, table 5: 11 mm doubles sidelines, 8
#: singles sidelines, 13 service lines, 24 baselines, 5 from the centre line to those), shared by
#: the two; and a net is hung by hand (no source). Lines are as wide as the rules leave open: 1 to
#: 2 in, the baseline to 4.
DOUBLES_SD_M, SINGLES_SD_M, SERVICE_SD_M, BACK_SD_M, CENTRE_SD_M = (
    mm / 1000 / 2 / 2**0.5 for mm in (11, 8, 13, 24, 5)
)
HUNG_M = 0.012


def astray_sd_m(ground: Ground, strip: Strip) -> float:
    """One standard deviation of how far a line of a full court lies aside."""
    if strip.north - strip.south > strip.east - strip.west:
        from_middle = max(abs(strip.west), abs(strip.east))
        sds = ((ground.half_wide_m, DOUBLES_SD_M), (ground.singles_m or 0.0, SINGLES_SD_M))
    else:
        from_middle = max(abs(strip.south), abs(strip.north))
        sds = ((ground.half_long_m, BACK_SD_M), (ground.service_m, SERVICE_SD_M))
    return next((sd for outer, sd in sds if abs(from_middle - outer) < 0.02), CENTRE_SD_M)


@lru_cache(maxsize=64)
def built(ground: Ground, seed: int) -> Ground:
    """The court as one builder left it."""
    random = np.random.default_rng((seed, 10))
    middle, post = random.normal(0, HUNG_M, 2).tolist()
    sds = [astray_sd_m(ground, strip) for strip in ground.strips()]
    return msgspec.structs.replace(
        ground,
        narrow_m=float(random.uniform(1, 2)) * INCH_M,
        baseline_m=float(random.uniform(2, 4)) * INCH_M,
        astray_m=tuple(random.normal(0, sd) for sd in sds),
        cord_middle_m=ground.cord_middle_m + middle,
        cord_post_m=ground.cord_post_m + middle + post,
    )
