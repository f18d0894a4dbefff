"""The court drawn over the still, for a person to say yes to."""

from __future__ import annotations

import cv2
import numpy as np

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.watch.camera.camera import Camera, Floats
from feedscript.watch.camera.geometry import project
from feedscript.watch.ruler.paint import placed, usual, white_lines
from feedscript.watch.ruler.ridges import Picture

#: Blue, green, red: lines on the ground, and the net. Told apart by brightness too.
_GROUND, _NET = (40, 40, 255), (255, 220, 0)
#: The far end is named so far behind its baseline.
_BEHIND_M = 1.5
_EIGHTHS = 3  # places are drawn to an eighth of a pixel


def overlay(grey: Picture, camera: Camera, court: Court) -> bytes:
    """A PNG: the still, the court's lines where the camera draws them, and which end is whose."""
    picture = np.asarray(cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR), np.uint8)
    thick = max(round(camera.width_px / 900), 1)
    for line in white_lines(court):
        ends = placed(line, usual())
        shares = np.linspace(0, 1, 200)[:, None]
        px = project(camera, ends[0] + shares * (ends[1] - ends[0]))
        for run in runs(px):
            whole = np.round(run * (1 << _EIGHTHS)).astype(np.int32)
            colour = _GROUND if line.ground else _NET
            cv2.polylines(picture, [whole], False, colour, thick, cv2.LINE_AA, _EIGHTHS)
    for end, px in ends_shown(camera, court):
        _say(picture, f"{end.value}'s end", px)
    done, data = cv2.imencode(".png", picture)
    assert done  # a picture in memory, of three channels
    return data.tobytes()


def ends_shown(camera: Camera, court: Court) -> list[tuple[End, Floats]]:
    """Where in the picture each end is named, clear of the net: this side of it between baseline
    and service line, else nearer to the net; the other behind its baseline. None of an end whose
    place is not in the picture."""
    found = []
    for end in End:
        near = camera.position_m[1] * end.y_sign > 0
        middle_m = (court.half_length_m + court.service_line_m) / 2
        here_m = (middle_m, 0.6 * court.service_line_m)
        for y_m in here_m if near else (court.half_length_m + _BEHIND_M,):
            px = project(camera, np.array([0.0, end.y_sign * y_m, 0.0]))
            if np.isfinite(px).all() and _well_inside(px, camera):
                found.append((end, px))
                break
    return found


def _well_inside(px: Floats, camera: Camera) -> bool:
    beside = np.array([0.08, 0.04]) * camera.width_px
    size = (camera.width_px, camera.height_px)
    return bool(((px > beside) & (px < np.subtract(size, beside))).all())


def runs(px: Floats) -> list[Floats]:
    """The parts of a line that can be drawn: neither behind the camera nor far beside it."""
    good = np.asarray(np.all(np.abs(np.nan_to_num(px, nan=np.inf)) < 20_000, axis=1))
    cuts = np.flatnonzero(np.diff(good.astype(np.int8))) + 1
    parts = np.split(np.arange(len(px)), cuts)
    return [px[part] for part in parts if good[part[0]] and len(part) > 1]


def _say(picture: Picture, words: str, px: Floats) -> None:
    size = picture.shape[1] / 1600
    (wide, _), _ = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, size, 2)
    at = (int(px[0] - wide / 2), int(px[1]))
    for colour, thick in (((0, 0, 0), 5), ((255, 255, 255), 2)):
        cv2.putText(picture, words, at, cv2.FONT_HERSHEY_SIMPLEX, size, colour, thick, cv2.LINE_AA)
