"""A camera that moves a little: turned back onto the court's lines, picture by picture.

A hand or a tripod that settles turns a camera far more than it carries it away, so three turns are
all that is worked out anew.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from scipy.spatial.transform import Rotation

from feedscript.court.lines import Court
from feedscript.watch.camera.camera import PARAMETERS, Camera, Floats, moved
from feedscript.watch.camera.geometry import project, ray, slopes
from feedscript.watch.ruler.measure import measure
from feedscript.watch.ruler.paint import placed, usual, white_lines
from feedscript.watch.ruler.ridges import Picture
from feedscript.watch.ruler.still import way_onto

#: Lines are looked for this far off where they were last, for a picture 1280 wide.
_GATES_PX = (10.0, 4.0)
#: The same where a camera is found again by what it saw at first.
_FOUND_GATES_PX = (24.0, 10.0, 4.0)
#: One picture is measured in fewer places than a still.
_APART_PX = 16.0
#: Where fewer than this share of the lines in view are found, the camera was moved.
_LEAST_SHARE = 0.45
_TURNS = slice(3, 6)


class Followed(msgspec.Struct, frozen=True, eq=False):
    """The camera of one picture; by how many pixels the middle of the picture is off the still;
    and whether its lines are there at all: if not, the camera was moved, or somebody stands in
    front of it, and the one before is given."""

    camera: Camera
    off_px: float
    lines_there: bool


class Follower:
    """Follows a camera from its still on; give it every picture, or one of some."""

    def __init__(
        self,
        camera: Camera,
        court: Court,
        loose: Floats | None = None,
        still: Picture | None = None,
        now: Camera | None = None,
    ) -> None:
        """``still``: what the camera saw at first; by it a camera is found again that went on
        settling while nobody looked; ``now``: as it was followed up to here."""
        self._first, self._now = camera, now or camera
        self._still = still
        self._lines = white_lines(court)
        self._loose = usual() if loose is None else loose
        self._aside = np.zeros(len(self._lines))
        self._usual = np.zeros(3) if still is None else self._turn_of(still)

    def _turn_of(self, still: Picture) -> Floats:
        """What the still itself seems to be turned by, (3,): lines are as wide as one builder made
        them and lie where he put them, and what that does to the still it does to every picture."""
        found = self._near(still, self._first, _GATES_PX)
        if found is None:
            return np.zeros(3)
        turn = (
            Rotation.from_rotvec(found.rotation) * Rotation.from_rotvec(self._first.rotation).inv()
        )
        return np.asarray(turn.as_rotvec())

    def at(self, grey: Picture) -> Followed:
        """The camera that took this picture, shape (height, width)."""
        found = self._near(grey, self._now, _GATES_PX)
        if found is None and self._still is not None:
            way = way_onto(self._still, grey)
            if way is not None:
                found = self._near(grey, turned_along(self._first, way), _FOUND_GATES_PX)
        if found is not None:  # what is given out is all that is kept: a later run goes on from it
            self._now = self._turned_by(found, -self._usual)
        return Followed(self._now, self._off_px(self._now), found is not None)

    @staticmethod
    def _turned_by(camera: Camera, turn: Floats) -> Camera:
        change = np.zeros(len(PARAMETERS))
        change[_TURNS] = turn
        return moved(camera, change)

    def _near(self, grey: Picture, camera: Camera, gates_px: Sequence[float]) -> Camera | None:
        """The camera, from one that draws the lines nearly where they are."""
        now: Camera | None = camera
        for gate_px in gates_px:
            if now is None:
                return None
            now = self._turned(grey, now, gate_px)
        return now

    def _turned(self, grey: Picture, camera: Camera, gate_px: float) -> Camera | None:
        """Turned onto the lines that are found near by; None where too few are."""
        scale = camera.width_px / 1280
        seen = measure(
            grey,
            camera,
            self._lines,
            self._loose,
            self._aside,
            gate_px=gate_px * scale,
            blur_px=0.9 * scale,
            apart_px=_APART_PX,
        )
        if len(seen.line) < max(_LEAST_SHARE * seen.tried, 12):
            return None
        ends = np.array([placed(line, self._loose) for line in self._lines])[seen.line]
        points = ends[:, 0] + seen.share[:, None] * (ends[:, 1] - ends[:, 0])
        by_turn = np.einsum(
            "ni,nij->nj", seen.normal, slopes(camera, points).by_camera[:, :, _TURNS]
        )
        turn, weights = np.zeros(3), np.ones(len(seen.line))
        for _ in range(8):
            weighted = by_turn * weights[:, None]
            turn = np.linalg.lstsq(weighted.T @ by_turn, weighted.T @ seen.offset_px, rcond=None)[0]
            left = np.abs(seen.offset_px - by_turn @ turn)
            typical = max(1.4826 * float(np.median(left)), 0.05)
            weights = np.where(left < 4 * typical, np.minimum(1, 1.5 * typical / (left + 1e-9)), 0)
        if (weights > 0).sum() < _LEAST_SHARE * seen.tried:
            return None
        return self._turned_by(camera, turn)

    def _off_px(self, camera: Camera) -> float:
        ahead = np.array(self._first.position_m) + 20.0 * self._first.axes[2]
        return float(np.linalg.norm(project(camera, ahead) - project(self._first, ahead)))


def turned_along(camera: Camera, way: Floats) -> Camera:
    """The camera turned so that what it sees goes along this way of the picture, shape (2, 3)."""
    across = np.linspace(0.1, 0.9, 9) * camera.width_px
    down = np.linspace(0.1, 0.9, 7) * camera.height_px
    px = np.stack(np.meshgrid(across, down), -1).reshape(-1, 2)
    there = px @ way[:, :2].T + way[:, 2]
    before, after = (ray(camera, one)[1] @ camera.axes.T for one in (px, there))
    shown = np.isfinite(before).all(1) & np.isfinite(after).all(1)
    turn, _ = Rotation.align_vectors(after[shown], before[shown])
    change = np.zeros(len(PARAMETERS))
    change[_TURNS] = turn.as_rotvec()
    return moved(camera, change)
