"""A sound as a WAV file, for what reads one."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np

from feedscript.review.video.sound import Samples


def write_wav(path: Path, channels: Samples, rate_hz: int) -> None:
    """One channel, shape (n,), or several, shape (channels, n); 16 bit."""
    rows = np.atleast_2d(channels)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(len(rows))
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes((np.clip(rows.T, -1, 1) * 32767).astype("<i2").tobytes())
