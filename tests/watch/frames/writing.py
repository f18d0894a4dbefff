"""Videos to read: written with PyAV, each picture telling its number, each file as odd as asked."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

#: Black and white squares in the top row tell a picture's number, the lowest bit first.
BITS, SQUARE = 12, 16
TICK = Fraction(1, 30_000)
SOUND_HZ = 16_000


def numbered(number: int, width: int = 320, height: int = 180) -> np.ndarray:
    """Grey, dark on the right; the number in the top left."""
    grey = np.tile(np.linspace(200, 60, width).astype(np.uint8), (height, 1))
    for bit in range(BITS):
        grey[:SQUARE, bit * SQUARE : (bit + 1) * SQUARE] = 235 if number >> bit & 1 else 20
    return grey


def number_of(grey: np.ndarray) -> int:
    """What an upright picture says."""
    middles = grey[SQUARE // 2, SQUARE // 2 : BITS * SQUARE : SQUARE]
    return sum(1 << bit for bit, value in enumerate(middles) if value > 128)


def tone(seconds: float) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * 440 * np.arange(round(seconds * SOUND_HZ)) / SOUND_HZ)


def write_video(
    path: Path,
    times_s: Sequence[float],
    *,
    size: tuple[int, int] = (320, 180),
    codec: str = "libx264",
    sound: np.ndarray | None = None,
    sound_at_s: float = 0.0,
    options: dict[str, str] | None = None,
    pixel: Fraction | None = None,
) -> Path:
    """One numbered picture at each time, and the sound beside it."""
    with av.open(str(path), "w", container_options=options or {}) as out:
        video = out.add_stream(codec, rate=30)
        video.width, video.height = size
        video.pix_fmt = "yuvj420p" if codec == "mjpeg" else "yuv420p"
        video.codec_context.time_base = TICK
        video.time_base = TICK
        if codec == "libx264":
            video.options = {"preset": "ultrafast", "g": "30"}
        if codec == "libvpx":
            video.options = {"deadline": "realtime", "cpu-used": "8"}
        if pixel is not None:
            video.codec_context.sample_aspect_ratio = pixel
        heard = out.add_stream("aac", rate=SOUND_HZ, layout="mono") if sound is not None else None
        for number, time_s in enumerate(times_s):
            picture = av.VideoFrame.from_ndarray(numbered(number, *size), format="gray")
            picture = picture.reformat(format=video.pix_fmt)
            picture.pts, picture.time_base = round(time_s / TICK), TICK
            out.mux(video.encode(picture))
        out.mux(video.encode())
        if heard is not None and sound is not None:
            _write_sound(out, heard, sound, sound_at_s)
    return path


def write_sound_only(path: Path, sound: np.ndarray) -> Path:
    with av.open(str(path), "w") as out:
        _write_sound(out, out.add_stream("aac", rate=SOUND_HZ, layout="mono"), sound, 0.0)
    return path


def _write_sound(out, stream, sound: np.ndarray, at_s: float) -> None:
    for first in range(0, len(sound), 1024):
        part = sound[first : first + 1024].astype(np.float32)[None]
        piece = av.AudioFrame.from_ndarray(part, format="fltp", layout="mono")
        piece.rate, piece.pts = SOUND_HZ, first + round(at_s * SOUND_HZ)
        piece.time_base = Fraction(1, SOUND_HZ)
        out.mux(stream.encode(piece))
    out.mux(stream.encode())


#: a, b, c, d of the display matrix (ISO/IEC 14496-12, 8.3.2), by the quarter turn to the right
#: that a player makes; "mirrored" is what some cameras facing their owner write.
TURNS = {
    "none": (1, 0, 0, 1),
    "right": (0, 1, -1, 0),
    "half": (-1, 0, 0, -1),
    "left": (0, -1, 1, 0),
    "mirrored": (-1, 0, 0, 1),
}


def turned(path: Path, turn: str) -> Path:
    """The MP4 with this turn written into its first track's header, in place."""
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4
    matrix = at + 40 + (12 if data[at] else 0)  # version 1 has longer times before it
    assert struct.unpack(">9i", data[matrix : matrix + 36])[0] == 1 << 16
    a, b, c, d = (one << 16 for one in TURNS[turn])
    data[matrix : matrix + 36] = struct.pack(">9i", a, b, 0, c, d, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
    return path
