"""A short film of one ball, slowed, with its fitted flight drawn as far as it has come."""

from __future__ import annotations

import io
from fractions import Fraction
from itertools import islice
from typing import cast

import av
import cv2
import numpy as np

from feedscript.watch.clips.strip import (
    DARK,
    FLIGHT,
    LIGHT,
    Part,
    Picture,
    draw_flight,
    draw_landing,
    frames_of,
    part_of,
)
from feedscript.watch.clips.way import Way
from feedscript.watch.frames.video import Video

#: What PyAV's own libraries may have to write pictures with, the best first.
_WRITERS = ("libx264", "libopenh264", "mpeg4")
#: It is shown so many times slower, and no larger or longer than this.
SLOWER, _MOST_PX, _MOST_PICTURES = 4, (640, 480), 600
#: Bits a second that it may take: a clip of 10 s has 2.5 MB at most, about.
_BITS = 2_000_000
_TICK = Fraction(1, 90_000)


def clip_of(video: Video, way: Way) -> bytes | None:
    """One ball as an MP4 file; None where the film shows nothing of its way.

    Raises FeedscriptError (``video-unusable``).
    """
    part = part_of(way, _MOST_PX, most_times=1.0)
    if part is None:
        return None
    file = io.BytesIO()
    with av.open(file, "w", format="mp4") as container:
        stream = None
        for frame in islice(frames_of(video, way), _MOST_PICTURES):
            picture = _drawn(part.of(frame.coloured()), way, part, frame.time_s)
            if stream is None:
                stream = _stream(container, picture, video.rate_hz / SLOWER)
            written = av.VideoFrame.from_ndarray(picture, "bgr24").reformat(format="yuv420p")
            written.pts, written.time_base = _tick(frame.time_s - way.from_s), _TICK
            container.mux(stream.encode(written))
        if stream is None:
            return None
        container.mux(stream.encode())
    return file.getvalue()


def _tick(since_s: float) -> int:
    return round(SLOWER * max(since_s, 0.0) / _TICK)


def _stream(
    container: av.container.OutputContainer, picture: Picture, rate_hz: float
) -> av.VideoStream:
    name = next(one for one in _WRITERS if one in av.codecs_available)
    rate = Fraction(rate_hz).limit_denominator(1001)
    stream = cast(av.VideoStream, container.add_stream(name, rate=rate))
    stream.height, stream.width = picture.shape[:2]
    stream.pix_fmt = "yuv420p"
    stream.bit_rate = _BITS
    stream.time_base = stream.codec_context.time_base = _TICK
    if name == "libx264":
        stream.options = {"preset": "veryfast", "threads": "1"}
    return stream


def _drawn(picture: Picture, way: Way, part: Part, time_s: float) -> Picture:
    """The flight up to now, a ring where the ball should be, and from its bounce on the mark."""
    draw_flight(picture, way, part, time_s - 0.02)
    if time_s >= way.bounce_s:
        draw_landing(picture, way, part)
    place = part.at(way.px(np.array([time_s])))[0]
    if np.isfinite(place).all():
        radius = round(2.2 * way.radius_px(time_s) * part.scale + 5)
        at = tuple(np.round(place).astype(int).tolist())
        cv2.circle(picture, at, radius, FLIGHT, 1, cv2.LINE_AA)
    for colour, thick in ((DARK, 3), (LIGHT, 1)):
        words = f"{time_s:.2f} s"
        cv2.putText(
            picture, words, (8, 18), cv2.FONT_HERSHEY_SIMPLEX, 0.45, colour, thick, cv2.LINE_AA
        )
    height, width = (one // 2 * 2 for one in picture.shape[:2])  # H.264 halves colours both ways
    return np.ascontiguousarray(picture[:height, :width])
