"""A feed measured, and a small film that shows its ball where it truly was: drawn by this alone."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import cv2
import msgspec
import numpy as np

from feedscript.watch.camera.camera import Camera
from feedscript.watch.clips.way import Way, way_of
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.video import Video, open_video
from tests.watch.fit.filmed import as_it_is
from tests.watch.fit.seen_as_points import Fed, fed, seen

#: Blue, green, red.
GROUND, BALL = (110, 70, 50), (60, 250, 230)
SIZE = (640, 360)


class Shown(msgspec.Struct, frozen=True, eq=False):
    """What was fed, what was found of it, and the film of it."""

    fed: Fed
    camera: Camera
    found: Measured | NotSeen
    video: Video

    @property
    def way(self) -> Way:
        way = way_of(self.camera, self.fed.feed, self.found)
        assert way is not None
        return way

    def true_px(self, time_s: float) -> np.ndarray:
        """Where the ball truly stood in the picture that begins then; NaN where in none."""
        track, times = self.fed.ball.track, self.fed.truth.times_s
        row = track.in_frame(int(np.argmin(np.abs(times - time_s))))
        return np.full(2, np.nan) if row is None else track.middle_px[row]


def shown(path: Path) -> Shown:
    one = fed(21, balls=1, size=SIZE)[0]
    found = measure(seen(one, np.random.default_rng(6), noise_px=0.15))
    assert isinstance(found, Measured), found
    draw(one, path)
    return Shown(one, as_it_is(one.truth.lens), found, open_video(path))


def draw(one: Fed, path: Path) -> None:
    """A disc on even ground, from before it leaves until after it bounced."""
    assert one.ball.bounce is not None
    chosen = np.flatnonzero(one.truth.times_s < one.ball.bounce.at_s + 0.6)
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=60)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, 90_000)
        stream.options = {"preset": "ultrafast", "crf": "12", "g": "30", "threads": "1"}
        for frame in chosen.tolist():
            picture = np.full((*SIZE[::-1], 3), GROUND, np.uint8)
            row = one.ball.track.in_frame(frame)
            if row is not None:
                at = tuple(np.round(one.ball.track.middle_px[row] * 8).astype(int).tolist())
                radius = round(max(one.ball.track.radius_px[row], 1.5) * 8)
                cv2.circle(picture, at, radius, BALL, cv2.FILLED, cv2.LINE_AA, 3)
            written = av.VideoFrame.from_ndarray(picture, "bgr24").reformat(format="yuv420p")
            written.pts = round(one.truth.times_s[frame] * 90_000)
            written.time_base = Fraction(1, 90_000)
            out.mux(stream.encode(written))
        out.mux(stream.encode())


def like_the_ball(picture: np.ndarray, place: np.ndarray, within: int = 2) -> bool:
    """Whether something as yellow as the ball is there."""
    if not np.isfinite(place).all():
        return False
    across, down = np.round(place).astype(int).tolist()
    part = picture[max(down - within, 0) : down + within + 1, max(across - within, 0) :][
        :, : 2 * within + 1
    ].astype(int)
    return bool(((part[..., 1] > 150) & (part[..., 2] > 140) & (part[..., 0] < 130)).any())
