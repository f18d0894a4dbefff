"""A film's frames as they come out of a JPEG camera, quick enough for thousands of balls.

JPEG's blocks of eight by eight pixels know nothing of one another (ITU-T T.81). So, where camera
and light stand still, some noisy pictures of the empty court are packed once, and of each frame
only the blocks that something is drawn into are packed anew: to the last bit what packing it
whole gives.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.picture import Picture
from tests.watch.scene.render import Film, Studio

Grey = NDArray[np.uint8]
QUALITY = 80
BLOCK = 8
#: Noisy pictures of one court: in a film of a minute each comes again some hundred times.
SHEETS = 24


def packed(picture: Grey, quality: int = QUALITY) -> Grey:
    """Into JPEG and back."""
    _, jpeg = cv2.imencode(".jpg", picture, (cv2.IMWRITE_JPEG_QUALITY, quality))
    return cv2.imdecode(jpeg, cv2.IMREAD_GRAYSCALE)


def frames(film: Film, every: int = 1) -> Iterator[tuple[float, Grey]]:
    """When each frame's shutter opens, and the frame; or one frame of so many."""
    studio = Studio(film.scene, film.truth)
    times = film.truth.times_s[::every].tolist()
    look = film.scene.look
    if studio.turning is not None or look.cloud or look.flicker:
        for at_s in times:
            yield at_s, packed(studio.picture(at_s).luma)
        return
    sheets = _Sheets(studio)
    for at_s in times:
        yield at_s, sheets.frame(at_s)


class _Sheet(msgspec.Struct, frozen=True, eq=False):
    """One fall of noise, and the empty court packed with it."""

    noise: NDArray[np.int8]
    court: Grey


class _Sheets:
    def __init__(self, studio: Studio) -> None:
        self.studio, self.random = studio, np.random.default_rng((studio.scene.seed, 9))
        self.court = studio.base.luma.copy()
        cuts = [studio.grain.cut() for _ in range(SHEETS)]
        self.sheets = [_Sheet(cut, packed(_noisy(self.court, cut))) for cut in cuts]

    def frame(self, at_s: float) -> Grey:
        self.studio.leave(at_s)
        for block in _changed(self.court, self.studio.base.luma):
            for sheet in self.sheets:
                _repack(sheet.court, self.studio.base.luma, sheet.noise, block)
        self.court[:] = self.studio.base.luma
        drawn: Picture = self.studio.drawn(at_s)
        sheet = self.sheets[self.random.integers(SHEETS)]
        frame = sheet.court.copy()
        for block in _changed(self.court, drawn.luma):
            _repack(frame, drawn.luma, sheet.noise, block)
        return frame


def _noisy(picture: Grey, noise: NDArray[np.int8]) -> Grey:
    return cv2.add(picture, noise, dtype=cv2.CV_8U)


def _repack(onto: Grey, picture: Grey, noise: NDArray[np.int8], part: tuple[slice, slice]) -> None:
    onto[part] = packed(_noisy(picture[part], noise[part]))


def _changed(one: Grey, two: Grey) -> list[tuple[slice, slice]]:
    """Parts, by whole blocks, outside of which two pictures are the same."""
    differs = cv2.compare(one, two, cv2.CMP_NE)
    outlines, _ = cv2.findContours(differs, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    blocks = np.zeros((-(-one.shape[0] // BLOCK), -(-one.shape[1] // BLOCK)), np.uint8)
    for outline in outlines:
        left, top, width, height = cv2.boundingRect(outline)
        right, bottom = (-(-each // BLOCK) for each in (left + width, top + height))
        blocks[top // BLOCK : bottom, left // BLOCK : right] = 1
    parts, _ = cv2.findContours(blocks, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    boxes = [[BLOCK * each for each in cv2.boundingRect(part)] for part in parts]
    return [np.s_[top : top + high, left : left + wide] for left, top, wide, high in boxes]
