"""The sound of a video, in one channel, by the same clock as its pictures."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import av
import av.audio
import av.container
import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.diagnostics import FeedscriptError
from feedscript.watch.frames.container import BROKEN, opened
from feedscript.watch.frames.pages import NO_SOUND

Samples = NDArray[np.float32]

#: Rates of sound that cameras and recorders write, samples a second, and somewhat beyond. A damaged
#: file may name any: what is slower has no thump in it, a hole in what is faster fills the memory.
_RATES_HZ = range(4_000, 200_001)
#: Shorter holes in the sound's times are its clock's own rounding.
_LEAST_HOLE_S = 0.002
#: Longer ones are no holes but a clock that jumped; the sound goes on without them.
_MOST_HOLE_S = 60.0


class Sound(msgspec.Struct, frozen=True, eq=False):
    """Samples from -1 to 1, shape (n,); the first one at ``start_s`` of the video."""

    rate_hz: int
    start_s: float
    samples: Samples


def samples(path: Path, *, from_s: float = 0.0, to_s: float = np.inf) -> Sound:
    """The sound between two moments; four bytes a sample, silent where the file has a hole.

    Raises FeedscriptError (``video-unusable``, ``video-silent``).
    """
    parts: list[Sound] = []
    for block in blocks(path):
        end_s = block.start_s + len(block.samples) / block.rate_hz
        if end_s > from_s:
            parts.append(block)
        if end_s >= to_s:
            break
    if not parts:
        raise silent(path, f"its sound ends before {from_s:.1f} s")
    rate_hz, start_s = parts[0].rate_hz, parts[0].start_s
    whole = np.concatenate([part.samples for part in parts])
    first = max(round((from_s - start_s) * rate_hz), 0)
    last = round(min((to_s - start_s) * rate_hz, len(whole)))
    return Sound(rate_hz, start_s + first / rate_hz, whole[first:last])


def blocks(path: Path) -> Iterator[Sound]:
    """The sound piece by piece, each beginning where the last one ended.

    Raises FeedscriptError (``video-unusable``, ``video-silent``).
    """
    with opened(path) as container:
        if not container.streams.audio:
            raise silent(path)
        stream = container.streams.audio[0]
        if getattr(stream, "codec_context", None) is None or not stream.rate:
            raise silent(path, "its sound is written in a way that is not known here")
        rate_hz = stream.rate
        if rate_hz not in _RATES_HZ:
            raise silent(path, f"its sound is said to have {rate_hz} samples a second")
        start_s, heard = 0.0, 0
        for time_s, piece in _pieces(container, stream):
            if not heard:
                start_s = time_s
            hole_s = time_s - (start_s + heard / rate_hz)
            if _LEAST_HOLE_S < hole_s < _MOST_HOLE_S:
                piece = np.concatenate([np.zeros(round(hole_s * rate_hz), np.float32), piece])
            yield Sound(rate_hz, start_s + heard / rate_hz, piece)
            heard += len(piece)
        if not heard:
            raise silent(path, "nothing of its sound can be read")


def _pieces(
    container: av.container.InputContainer, stream: av.audio.AudioStream
) -> Iterator[tuple[float, Samples]]:
    """What is decoded, with its time from the video's beginning; damaged pieces are left out."""
    mixer = av.AudioResampler(format="flt", layout="mono", rate=stream.rate)
    zero_s = (container.start_time or 0) / av.time_base
    packets = container.demux(stream)
    while True:
        try:
            packet = next(packets)
        except (StopIteration, *BROKEN):
            return
        try:
            for piece in packet.decode():
                for mixed in mixer.resample(piece):
                    if mixed.time is not None and mixed.samples:
                        yield mixed.time - zero_s, mixed.to_ndarray()[0].astype(np.float32)
        except BROKEN:
            continue


def silent(path: Path, message: str = "the file has no sound") -> FeedscriptError:
    """Why the film cannot be heard (``video-silent``), and what to do."""
    return FeedscriptError(
        NO_SOUND.report(
            message,
            device=str(path),
            help="say about where the first ball leaves, --offset '12.5 s': balls are found by "
            "sight then; or film with sound on, at a rate at which the camera saves it",
        )
    )
