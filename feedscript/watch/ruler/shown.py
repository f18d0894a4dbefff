"""The camera by what a person shows in the still, point by point."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
import numpy as np

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.ruler.find import Ruler, find_camera, in_picture, judged, turned
from feedscript.watch.ruler.points import (
    CLICK_SD_PX,
    LEAST_POINTS,
    Pixels,
    named_places,
    nearest_camera,
    solve,
)
from feedscript.watch.ruler.ridges import Picture

#: A point that nobody has shown yet is about where it was: standard deviation for a picture 1280
#: wide. It gives way to any that is shown.
_LEFT_SD_PX = 25.0
#: Lines that lie further than this from a point that is shown, for a picture 1280 wide, are not
#: those that were meant: the points alone count then.
_NOT_MEANT_PX = 6.0


class Shown(msgspec.Struct, frozen=True, eq=False):
    """What comes of it. ``camera`` is None where nothing draws the court; ``verdict`` is the ruler,
    or why it cannot be used."""

    camera: Camera | None
    verdict: Ruler | Diagnostic


def shown_court(
    grey: Picture,
    court: Court,
    pins: Pixels,
    *,
    near: Camera | None = None,
    camera_at: End | None = None,
    most_sd_m: float,
    by_lines: bool = True,
) -> Shown:
    """The camera that draws the court as these points say, with the lines found near by.

    ``near`` is the camera so far: what it draws holds the court in place while fewer than four
    points are shown. Without any point the court is looked for in the whole picture.
    ``by_lines=False`` takes the points alone: quickly, while a hand still moves.
    """
    if not pins:
        found = find_camera(grey, court, camera_at=camera_at, most_sd_m=np.inf)
        return _with_verdict(found, court, most_sd_m)
    start = _start(grey, court, pins, near)
    if isinstance(start, Diagnostic):
        return Shown(near, start)
    if not by_lines:
        return Shown(start, judged(start, False, court, most_sd_m))
    ruler = find_camera(grey, court, start=start, most_sd_m=np.inf)
    if isinstance(ruler, Ruler) and ruler.by_lines:
        off_px = _off_px(ruler.camera, court, pins)
        if off_px < _NOT_MEANT_PX * grey.shape[1] / 1280:
            return _with_verdict(ruler, court, most_sd_m)
    return Shown(start, judged(start, False, court, most_sd_m))


def from_the_other_end(
    camera: Camera, pins: Pixels
) -> tuple[Camera, dict[str, tuple[float, float]]]:
    """The camera and the points where both ends have changed places."""
    ends = {"receiver": "launcher", "launcher": "receiver"}
    sides = {"ad": "deuce", "deuce": "ad"}

    def other(name: str) -> str:
        first, _, rest = name.partition(" ")
        return f"{sides.get(first) or ends.get(first) or first} {rest}"

    return turned(camera), {other(name): px for name, px in pins.items()}


def drawn_points(camera: Camera, court: Court) -> Mapping[str, tuple[float, float] | None]:
    """The pixel of every named point; None where it is not in the picture."""
    places = named_places(court)
    px = project(camera, np.array(list(places.values())))
    inside = in_picture(camera, px)
    return {
        name: (across, down) if shown else None
        for name, (across, down), shown in zip(places, px.tolist(), inside, strict=True)
    }


def _with_verdict(found: Ruler | Diagnostic, court: Court, most_sd_m: float) -> Shown:
    if isinstance(found, Diagnostic):
        return Shown(None, found)
    return Shown(found.camera, judged(found.camera, found.by_lines, court, most_sd_m))


def _start(grey: Picture, court: Court, pins: Pixels, near: Camera | None) -> Camera | Diagnostic:
    """By the points alone where there are enough of them; else near the camera so far."""
    places = named_places(court)
    on_ground = sum(places[name][2] == 0 for name in pins)
    if near is None or on_ground >= LEAST_POINTS:
        return solve(pins, court, (grey.shape[1], grey.shape[0]))
    held = {name: px for name, px in drawn_points(near, court).items() if px is not None}
    points = {**held, **pins}
    scale = grey.shape[1] / 1280
    sds = np.array([CLICK_SD_PX if name in pins else _LEFT_SD_PX * scale for name in points])
    space = np.array([places[name] for name in points])
    camera = nearest_camera(near, space, np.array(list(points.values()), np.float64), sds)
    return camera or solve(pins, court, (grey.shape[1], grey.shape[0]))


def _off_px(camera: Camera, court: Court, pins: Pixels) -> float:
    """How far the worst of the points is from where the camera draws it."""
    places = named_places(court)
    drawn = project(camera, np.array([places[name] for name in pins]))
    return float(
        np.nan_to_num(np.linalg.norm(drawn - list(pins.values()), axis=1), nan=np.inf).max()
    )
