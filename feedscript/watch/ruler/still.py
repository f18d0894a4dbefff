"""A still of what does not move: the middle value of each pixel over pictures of the whole video.

Pictures are first laid onto one another, since a hand or a settling tripod moves them a little; the
shift is found by phase correlation (C. D. Kuglin & D. C. Hines, "The phase correlation image
alignment method", 1975) and refined, with the roll, by the enhanced correlation coefficient (G. D.
Evangelidis & E. Z. Psarakis, IEEE PAMI 30, 2008).
"""

from __future__ import annotations

from collections.abc import Callable

import cv2
import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Floats
from feedscript.watch.frames.video import Frames, Video
from feedscript.watch.ruler.pages import CAMERA_MOVED
from feedscript.watch.ruler.ridges import Picture

#: So many pictures are looked at: people stand in one place for less than half of a lesson.
PICTURES = 25
#: A picture that lies further off than this is of a camera that was moved, for 1280 pixels' width.
MOVED_PX = 12.0
#: Below this correlation two pictures do not show the same place.
_LEAST_ALIKE = 0.6
_STEPS = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 1e-5)


class Still(msgspec.Struct, frozen=True, eq=False):
    """The still, shape (height, width); at which times pictures were looked at, and by how many
    pixels each lay off (infinite where it shows another place)."""

    grey: Picture
    times_s: tuple[float, ...]
    off_px: tuple[float, ...]
    moved_px: float  # beyond this a picture was left out

    @property
    def moved_at_s(self) -> float | None:
        """The first time after which no picture fits, where the camera was moved for good."""
        fits = [off <= self.moved_px for off in self.off_px]
        if all(fits) or not any(fits):
            return None
        last = max(index for index, one in enumerate(fits) if one)
        first = min(index for index, one in enumerate(fits) if one)
        if last < len(fits) - 1:
            return self.times_s[last + 1]
        return self.times_s[first] if first else None

    def troubles(self, device: str) -> tuple[Diagnostic, ...]:
        """What a person should know of it."""
        at_s = self.moved_at_s
        if at_s is None:
            return ()
        return (
            CAMERA_MOVED.report(
                f"the camera was moved at about {at_s:.0f} s of the video",
                device=device,
                help="cut the video there, and look at each part by itself",
            ),
        )


def still_of(video: Video, *, progress: Callable[[float], None] | None = None) -> Still:
    """The still of a video; ``progress`` is told how much is done, and may raise to give up.

    Raises FeedscriptError (``video-unusable``).
    """
    times_s, pictures = [], []
    for index in range(PICTURES):
        with Frames(video, from_s=video.duration_s * (index + 0.5) / PICTURES) as frames:
            frame = next(iter(frames), None)
        if frame is not None:
            times_s.append(frame.time_s)
            pictures.append(frame.grey)
        if progress is not None:
            progress((index + 1) / PICTURES)
    return laid_together(pictures, times_s)


def laid_together(pictures: list[Picture], times_s: list[float]) -> Still:
    """The still of pictures of one size, taken at these times."""
    most_px = MOVED_PX * pictures[0].shape[1] / 1280
    middle = len(pictures) // 2
    # If the middle one stands alone (a moment's knock), another is taken to lay the others onto.
    for base in (middle, middle // 2, (middle + len(pictures)) // 2):
        ways = [way_onto(pictures[base], picture) for picture in pictures]
        off_px = [shift_px(way, pictures[0]) for way in ways]
        kept = [i for i, off in enumerate(off_px) if off <= most_px]
        if len(kept) * 2 >= len(pictures):
            break
    laid = np.stack([_laid(pictures[i], ways[i]) for i in kept])
    grey = np.asarray(np.round(np.median(laid, axis=0)), np.uint8)
    return Still(grey, tuple(times_s), tuple(off_px), most_px)


def way_onto(base: Picture, picture: Picture) -> Floats | None:
    """The shift and roll, shape (2, 3), that takes places of ``base`` to those of ``picture``; None
    where the two do not show the same place."""
    small = [
        np.asarray(cv2.resize(one, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA), np.uint8)
        for one in (base, picture)
    ]
    fine = [_fine(one) for one in small]
    window = cv2.createHanningWindow(fine[0].shape[::-1], cv2.CV_32F)
    (across, down), _ = cv2.phaseCorrelate(fine[0], fine[1], window)
    start = np.array([[1, 0, across], [0, 1, down]], np.float32)
    try:
        alike, way = cv2.findTransformECC(
            fine[0], fine[1], start, cv2.MOTION_EUCLIDEAN, _STEPS, np.ones_like(small[0]), 5
        )
    except cv2.error:
        return None
    if alike < _LEAST_ALIKE:
        return None
    found = np.asarray(way, np.float64)
    # Of the small picture's pixel middles to those of the whole one.
    found[:, 2] = 2 * found[:, 2] + (found[:, :2] @ (0.5, 0.5)) * -1 + 0.5
    return found


def _fine(grey: Picture) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    """Without what changes slowly over the picture, so that light does not count."""
    values = grey.astype(np.float32)
    return np.asarray(values - cv2.GaussianBlur(values, (0, 0), 12), np.float32)


def shift_px(way: Floats | None, picture: Picture) -> float:
    """How far the corners move at most; infinite for no way."""
    if way is None:
        return float("inf")
    height, width = picture.shape
    corners = np.array([[0, 0], [width, 0], [0, height], [width, height]], np.float64)
    moved = corners @ way[:, :2].T + way[:, 2]
    return float(np.linalg.norm(moved - corners, axis=1).max())


def _laid(picture: Picture, way: Floats | None) -> Picture:
    assert way is not None  # it was kept
    size = (picture.shape[1], picture.shape[0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(
        cv2.warpAffine(picture, way, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), np.uint8
    )
