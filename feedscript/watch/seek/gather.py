"""Pictures in, one after another; out, for every feed, all that may be its ball."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec
import numpy as np

from feedscript.court.lines import Court
from feedscript.flight.models import Array
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.frames.video import Frame
from feedscript.watch.ruler.follow import Follower
from feedscript.watch.seek.background import Background, Box, Grey, Recent
from feedscript.watch.seek.blobs import Blobs, blobs_in
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.paths import Paths, paths

#: So many balls are drawn to know where to look, by this much wider than they are expected.
_DRAWN, _WIDER = 300, 1.6
#: Beside the outermost of them, for a picture 1280 wide.
_BESIDE_PX = 10.0
#: Longest time that a shutter is taken to stay open.
_OPEN_S = 0.02


class Gathered(msgspec.Struct, frozen=True, eq=False):
    """All that may be one feed's ball: a picture's time and its blobs, in order of time."""

    expected: Expected
    camera: Camera
    times_s: Array  # (n,) of the first row
    blobs: tuple[Blobs, ...]
    lines_there: bool = True  # False: the camera was moved, or its view was blocked


class Seeker:
    """Looks for every feed's ball while the pictures run by; memory does not grow with them."""

    def __init__(
        self,
        camera: Camera,
        expected: Sequence[Expected],
        still: Grey,
        court: Court | None = None,
        followed: Camera | None = None,
    ) -> None:
        """``still``: the court without what moves, shape (height, width); ``court``: by whose lines
        a camera that settles is followed from feed to feed (None: it stands still);
        ``followed``: as it was followed up to here."""
        self._camera = camera
        self._follower = (
            None if court is None else Follower(camera, court, still=still, now=followed)
        )
        self._to_come = sorted(expected, key=lambda one: one.left_s - _early_s(one))
        self._now: list[_Search] = []
        self._recent = Recent(still)

    def take(self, frame: Frame) -> Iterator[Gathered]:
        """The feeds that are over with this picture."""
        while self._to_come and begins_s(self._to_come[0]) <= frame.time_s:
            self._now.append(self._begun(self._to_come.pop(0)))
        for search in self._now:
            search.take(frame)
        yield from (one.gathered() for one in self._now if one.until_s <= frame.time_s)
        self._now = [one for one in self._now if one.until_s > frame.time_s]
        self._recent.take(frame.time_s, frame.grey)

    def _begun(self, expected: Expected) -> _Search:
        if self._follower is None:
            return _Search(expected, self._camera, self._recent)
        whole = Box(0, 0, self._camera.width_px, self._camera.height_px)
        grey = self._recent.background(whole).grey.astype(np.uint8)
        followed = self._follower.at(grey)
        return _Search(expected, followed.camera, self._recent, followed.lines_there)

    def rest(self) -> Iterator[Gathered]:
        """The feeds that were not over, or had not begun, as the pictures ended."""
        yield from (one.gathered() for one in self._now)
        for one in self._to_come:
            yield Gathered(one, self._camera, np.empty(0), ())
        self._now, self._to_come = [], []

    @property
    def idle(self) -> bool:
        """Whether nothing is left to look for."""
        return not (self._now or self._to_come)


def _early_s(expected: Expected) -> float:
    return 3 * expected.scatter.left_s


def begins_s(expected: Expected) -> float:
    """From when on a feed's ball is looked for."""
    return expected.left_s - _early_s(expected)


class _Search:
    """One feed while it is looked for."""

    def __init__(
        self, expected: Expected, camera: Camera, recent: Recent, lines_there: bool = True
    ) -> None:
        self._expected, self._camera, self._lines_there = expected, camera, lines_there
        balls = expected.drawn(_DRAWN, np.random.default_rng(expected.number), _WIDER)
        self._paths: Paths = paths(balls, expected)
        self._times: list[float] = []
        self._blobs: list[Blobs] = []
        ends = self._paths.left_s + self._paths.flight_s
        self.until_s = float(np.nanmax(ends, initial=expected.left_s) + 0.5)
        self._background = self._usual(recent)
        self._off_px = (0.0, 0.0)

    def _usual(self, recent: Recent) -> Background | None:
        """The background wherever the ball may come."""
        times = np.arange(begins_s(self._expected), self.until_s, 0.04)
        px = project(self._camera, self._paths.at(times)).reshape(-1, 2)
        box = self._round(px, wider_px=3 * _BESIDE_PX)
        return None if box is None else recent.background(box)

    def take(self, frame: Frame) -> None:
        if self._background is None:
            return
        time_s = frame.time_s + self._camera.row_time_s * self._camera.height_px / 2
        places = self._paths.at(np.array([time_s, time_s + _OPEN_S]))
        px = project(self._camera, places)
        box = self._round(px[:, 0])
        if box is None:
            return
        box = _inside(box, self._background.box)
        self._times.append(frame.time_s)
        radius_px, reach_px = self._size(places[:, 0], px)
        seen = self._background.seen(frame.grey, self._off_px)
        self._off_px = seen.off_px
        self._blobs.append(blobs_in(seen, box, radius_px, reach_px))

    def _round(self, px: Array, wider_px: float = 0.0) -> Box | None:
        """Round the pixels that are in the picture."""
        camera = self._camera
        shown = (px > -20).all(-1) & (px < (camera.width_px + 20, camera.height_px + 20)).all(-1)
        if not shown.any():
            return None
        px = px[shown]
        beside = (_BESIDE_PX + wider_px) * camera.width_px / 1280
        if camera.row_time_s:
            beside *= 2
        left, top = np.maximum(np.floor(px.min(0) - beside), 0)
        right, bottom = np.minimum(np.ceil(px.max(0) + beside), (camera.width_px, camera.height_px))
        return Box(int(left), int(top), int(right), int(bottom))

    def _size(self, places: Array, px: Array) -> tuple[float, float]:
        """The largest radius a ball may show here, and how far it goes in the shutter's time."""
        camera = self._camera
        depth = (places - camera.position_m) @ camera.axes[2]
        nearest = max(float(np.nanmin(depth, initial=np.inf)), 0.5)
        gone = np.linalg.norm(px[:, 1] - px[:, 0], axis=1)
        reach = float(np.nanmax(gone)) if np.isfinite(gone).any() else 0.0
        radius_m = self._expected.conditions.ball.radius_m
        return camera.focal_px * radius_m / nearest, reach

    def gathered(self) -> Gathered:
        return Gathered(
            self._expected,
            self._camera,
            np.array(self._times),
            tuple(self._blobs),
            self._lines_there,
        )


def _inside(box: Box, whole: Box) -> Box:
    return Box(
        max(box.left, whole.left),
        max(box.top, whole.top),
        min(box.right, whole.right),
        min(box.bottom, whole.bottom),
    )
