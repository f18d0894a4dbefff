"""The court drawn over the still, for a person to say yes to."""

from __future__ import annotations

import cv2
import numpy as np

from feedscript.court.lines import Court
from feedscript.watch.camera.camera import Camera, Floats
from feedscript.watch.camera.geometry import project
from feedscript.watch.ruler.paint import placed, usual, white_lines
from feedscript.watch.ruler.ridges import Picture

#: Blue, green, red: lines on the ground, and the net. Told apart by brightness too.
_GROUND, _NET = (40, 40, 255), (255, 220, 0)
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
    for words, y_m in (("receiver's end", 1.0), ("launcher's end", -1.0)):
        _say(picture, camera, words, np.array([0.0, y_m * court.service_line_m * 0.6, 0.0]))
    done, data = cv2.imencode(".png", picture)
    assert done  # a picture in memory, of three channels
    return data.tobytes()


def runs(px: Floats) -> list[Floats]:
    """The parts of a line that can be drawn: neither behind the camera nor far beside it."""
    good = np.asarray(np.all(np.abs(np.nan_to_num(px, nan=np.inf)) < 20_000, axis=1))
    cuts = np.flatnonzero(np.diff(good.astype(np.int8))) + 1
    parts = np.split(np.arange(len(px)), cuts)
    return [px[part] for part in parts if good[part[0]] and len(part) > 1]


def _say(picture: Picture, camera: Camera, words: str, place_m: Floats) -> None:
    px = project(camera, place_m)
    if (
        not np.isfinite(px).all()
        or not ((px > 0) & (px < (camera.width_px, camera.height_px))).all()
    ):
        return
    size = camera.width_px / 1600
    (wide, _), _ = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, size, 2)
    at = (int(px[0] - wide / 2), int(px[1]))
    for colour, thick in (((0, 0, 0), 5), ((255, 255, 255), 2)):
        cv2.putText(picture, words, at, cv2.FONT_HERSHEY_SIMPLEX, size, colour, thick, cv2.LINE_AA)
