"""A film written as cameras and phones do: H.264 or MJPEG, true times, turned, with sound.

Phones keep the sensor's rows and say in the file how to turn them for showing; so does this, where
``turned_deg`` is not 0: what is shown, turned as the file says, is the film upright.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from tests.watch.scene.hearing import RATE_HZ, sound
from tests.watch.scene.picture import Picture
from tests.watch.scene.render import Film

TICK = Fraction(1, 90_000)
#: How rows are kept that are shown turned by so much anticlockwise, as av counts.
KEPT = {
    0: None,
    90: cv2.ROTATE_90_CLOCKWISE,
    180: cv2.ROTATE_180,
    270: cv2.ROTATE_90_COUNTERCLOCKWISE,
}
#: Full range to the range that video keeps to (ITU-R BT.601): luma 16 to 235, chroma 16 to 240.
LUMA = np.round(16 + np.arange(256) * 219 / 255).astype(np.uint8)
CHROMA = np.round(128 + (np.arange(256) - 128) * 224 / 255).astype(np.uint8)


def write(
    film: Film,
    path: Path,
    *,
    codec: str = "h264",
    quality: int | None = None,
    colour: bool = True,
    with_sound: bool = True,
    turned_deg: int = 0,
) -> None:
    """``quality``: for h264 the rate factor (23; lower is better), for mjpeg the quantiser (4).

    The kind of file follows ``path``: mp4, mov, mkv.
    """
    with av.open(str(path), "w") as container:
        stream = _stream(container, film, codec, quality, turned_deg)
        speech = container.add_stream("aac", rate=RATE_HZ) if with_sound else None
        if speech is not None:
            speech.layout = "mono"
        for picture, opens_s in zip(_pictures(film, colour), film.truth.times_s, strict=True):
            frame = _frame(picture, turned_deg, full=codec == "mjpeg")
            frame.pts, frame.time_base = round(opens_s / TICK), TICK
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
        if speech is not None:
            _speak(container, speech, film)


def _stream(
    container: av.container.OutputContainer,
    film: Film,
    codec: str,
    quality: int | None,
    turned_deg: int,
) -> av.VideoStream:
    shooting = film.scene.shooting
    named = {"h264": "libx264", "mjpeg": "mjpeg"}[codec]
    stream = container.add_stream(named, rate=Fraction(shooting.rate_hz).limit_denominator(1001))
    size = (shooting.lens.width, shooting.lens.height)
    stream.width, stream.height = size[::-1] if turned_deg in (90, 270) else size
    stream.time_base = stream.codec_context.time_base = TICK
    if codec == "h264":
        stream.pix_fmt = "yuv420p"
        stream.options = {"crf": str(quality or 23), "preset": "superfast", "threads": "1"}
    else:
        stream.pix_fmt = "yuvj420p"
        stream.options = {"qmin": str(quality or 4), "qmax": str(quality or 4)}
    if turned_deg:
        stream.set_display_rotation(turned_deg)
    return stream


def _pictures(film: Film, colour: bool) -> list[Picture]:
    if colour:
        return film.colour_frames()
    return (Picture(luma, ()) for luma in film.frames())


def _frame(picture: Picture, turned_deg: int, *, full: bool) -> av.VideoFrame:
    height, width = picture.luma.shape
    grey = np.full((height // 2, width // 2), 128, np.uint8)
    planes = [picture.luma, *(picture.chroma or (grey, grey))]
    if not full:
        planes = [cv2.LUT(p, CHROMA if which else LUMA) for which, p in enumerate(planes)]
    if (turn := KEPT[turned_deg]) is not None:
        planes = [cv2.rotate(plane, turn) for plane in planes]
    width = planes[0].shape[1]
    packed = np.concatenate([plane.reshape(-1, width) for plane in planes])
    return av.VideoFrame.from_ndarray(packed, "yuvj420p" if full else "yuv420p")


def _speak(container: av.container.OutputContainer, stream: av.AudioStream, film: Film) -> None:
    heard: NDArray[np.float32] = sound(film.scene)
    for start in range(0, len(heard), 1024):
        part = av.AudioFrame.from_ndarray(heard[None, start : start + 1024], "fltp", "mono")
        part.sample_rate, part.pts, part.time_base = RATE_HZ, start, Fraction(1, RATE_HZ)
        container.mux(stream.encode(part))
    container.mux(stream.encode())
