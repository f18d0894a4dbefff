"""A film of nothing: grey pictures and silence, for what only copies or marks one."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np

_RATE_HZ, _SOUND_HZ = 5, 8000


def write_film(path: Path, seconds: int) -> None:
    """MP4 with pictures (MPEG-4 part 2) and sound (AAC)."""
    with av.open(str(path), "w") as made:
        pictures = made.add_stream("mpeg4", rate=_RATE_HZ)
        pictures.width, pictures.height, pictures.pix_fmt = 64, 48, "yuv420p"
        sound = made.add_stream("aac", rate=_SOUND_HZ)
        sound.layout = "mono"
        for number in range(seconds * _RATE_HZ):
            frame = av.VideoFrame(64, 48, "yuv420p")
            frame.pts, frame.time_base = number, Fraction(1, _RATE_HZ)
            made.mux(pictures.encode(frame))
        silence = np.zeros((1, seconds * _SOUND_HZ), np.float32)
        heard = av.AudioFrame.from_ndarray(silence, format="fltp", layout="mono")
        heard.sample_rate, heard.pts = _SOUND_HZ, 0
        made.mux(sound.encode(heard))
        for stream in (pictures, sound):
            made.mux(stream.encode(None))
