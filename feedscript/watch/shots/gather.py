"""Pictures in, one after another; out, for every feed, all that may be its ball on its way back."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.flight.models import Array
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.frames.video import Frame
from feedscript.watch.seek.background import Background, Box, Grey, Recent
from feedscript.watch.seek.blobs import Blobs, blobs_in
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.paths import Paths, paths
from feedscript.watch.shots.prior import BACK_S, LATEST_S, SOONEST_S, drawn_shots

_DRAWN = 400
#: The box holds all but this share of the drawn shots at either side.
_LEFT_OUT = 0.01
_BESIDE_PX = 8.0
_OPEN_S = 0.02


class Back(msgspec.Struct, frozen=True, eq=False):
    """What was seen while a shot may have been on its way."""

    expected: Expected  # the feed
    times_s: Array  # (n,) of the first row
    blobs: tuple[Blobs, ...]


class BackSeeker:
    """Looks for every feed's way back while the pictures run by."""

    def __init__(self, camera: Camera, expected: Sequence[Expected], still: Grey) -> None:
        self._camera = camera
        self._to_come = sorted((_Watch(one, camera) for one in expected), key=lambda w: w.from_s)
        self._now: list[_Watch] = []
        self._recent = Recent(still)

    def take(self, frame: Frame) -> list[Back]:
        """The feeds whose way back is over with this picture."""
        while self._to_come and self._to_come[0].from_s <= frame.time_s:
            self._now.append(self._to_come.pop(0).begun(self._recent))
        for one in self._now:
            one.take(frame)
        over = [one.back() for one in self._now if one.until_s <= frame.time_s]
        self._now = [one for one in self._now if one.until_s > frame.time_s]
        self._recent.take(frame.time_s, frame.grey)
        return over

    def rest(self) -> list[Back]:
        """Those that were not over, or had not begun, as the pictures ended."""
        return [one.back() for one in (*self._now, *self._to_come)]

    @property
    def begins_s(self) -> float:
        """When the first way back begins that has not begun; infinite where there is none."""
        return self._to_come[0].from_s if self._to_come else np.inf

    @property
    def idle(self) -> bool:
        """Whether nothing is left to look for."""
        return not (self._now or self._to_come)


class _Watch:
    """One feed's way back while it is looked for."""

    def __init__(self, expected: Expected, camera: Camera) -> None:
        self._expected, self._camera = expected, camera
        fed = paths(expected.middle[None], expected)
        down_s = float(np.nan_to_num(fed.left_s + fed.flight_s, nan=expected.left_s + 1.5)[0])
        self.from_s = down_s + SOONEST_S - 3 * expected.scatter.left_s
        self.until_s = down_s + LATEST_S + BACK_S
        self._shots: Paths | None = None
        self._background: Background | None = None
        self._off_px = (0.0, 0.0)
        self._times: list[float] = []
        self._blobs: list[Blobs] = []

    def begun(self, recent: Recent) -> _Watch:
        self._shots = paths(drawn_shots(self._expected, _DRAWN), self._expected)
        times = np.arange(self.from_s, self.until_s, 0.06)
        box = self._round(project(self._camera, self._shots.at(times)).reshape(-1, 2))
        self._background = None if box is None else recent.background(box)
        return self

    def take(self, frame: Frame) -> None:
        if self._background is None or self._shots is None:
            return
        time_s = frame.time_s + self._camera.row_time_s * self._camera.height_px / 2
        places = self._shots.at(np.array([time_s, time_s + _OPEN_S]))
        px = project(self._camera, places)
        box = self._round(px[:, 0])
        if box is None:
            return
        gone = np.linalg.norm(px[:, 1] - px[:, 0], axis=1)
        seen = self._background.seen(frame.grey, self._off_px)
        self._off_px = seen.off_px
        self._times.append(frame.time_s)
        reach_px = float(np.nanquantile(gone, 0.95)) if np.isfinite(gone).any() else 0.0
        self._blobs.append(blobs_in(seen, box, self._radius_px(places[:, 0]), reach_px))

    def _round(self, px: Array) -> Box | None:
        """Round what of these pixels is in the picture."""
        camera = self._camera
        size = (camera.width_px, camera.height_px)
        shown = (px > -20).all(-1) & (px < np.add(size, 20)).all(-1)
        if shown.sum() < 4:
            return None
        low, high = np.quantile(px[shown], (_LEFT_OUT, 1 - _LEFT_OUT), axis=0)
        beside = _BESIDE_PX * camera.width_px / 1280
        left, top = np.maximum(np.floor(low - beside), 0)
        right, bottom = np.minimum(np.ceil(high + beside), size)
        box = Box(int(left), int(top), int(right), int(bottom))
        whole = box if self._background is None else self._background.box
        return Box(
            max(box.left, whole.left),
            max(box.top, whole.top),
            min(box.right, whole.right),
            min(box.bottom, whole.bottom),
        )

    def _radius_px(self, places: Array) -> float:
        depth = (places - self._camera.position_m) @ self._camera.axes[2]
        nearest = float(np.nanquantile(depth, 0.02)) if np.isfinite(depth).any() else 1.0
        return self._camera.focal_px * self._expected.conditions.ball.radius_m / max(nearest, 0.5)

    def back(self) -> Back:
        return Back(self._expected, np.array(self._times), tuple(self._blobs))
