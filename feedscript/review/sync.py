"""Where in a video the lesson begins: a rising tone played on court, found again in its sound.

The tone is a linear sweep ("chirp"); its sharp autocorrelation is what lets a matched filter find
it under voices and ball strikes (W. C. Knight, R. G. Pridham & S. M. Kay, "Digital signal
processing for sonar", Proc. IEEE 69, 1981, on replica correlation; cited from memory).
"""

from __future__ import annotations

import wave
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from feedscript.diagnostics import FeedscriptError, Page

TONE_S = 0.4
TONE_FROM_HZ = 1200.0
TONE_TO_HZ = 3600.0
#: The best match must stand this far above the typical one, else there is no tone (design value;
#: noise alone reaches about 5 to 6 in an hour of sound).
LEAST_PROMINENCE = 9.0

SYNC_NOT_FOUND = Page(
    slug="sync-not-found",
    title="The sync tone is not in this sound",
    why=(
        "The cue marks line up with a video by a tone that was played while the camera ran. It is "
        "looked for in the video's sound, as an uncompressed WAV file. Without it the marks would "
        "be a guess, so the offset is asked for instead."
    ),
)

Samples = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Sound:
    """One channel of sound, from -1 to 1."""

    samples: Samples
    rate_hz: int


def tone(rate_hz: int) -> Samples:
    """The sync tone, shape (n,): a linear sweep, faded in and out over a hundredth of a second."""
    t = np.arange(round(TONE_S * rate_hz)) / rate_hz
    phase = 2 * np.pi * (TONE_FROM_HZ * t + (TONE_TO_HZ - TONE_FROM_HZ) / (2 * TONE_S) * t**2)
    fade = np.minimum(1.0, np.minimum(t, TONE_S - t) / 0.01)
    return np.asarray(np.sin(phase) * np.clip(fade, 0.0, 1.0))


def read_wav(path: Path) -> Sound:
    """The sound of a WAV file, its channels averaged. Raises FeedscriptError if it is none."""
    try:
        with wave.open(str(path), "rb") as file:
            rate, width, channels = file.getframerate(), file.getsampwidth(), file.getnchannels()
            raw = file.readframes(file.getnframes())
    except (OSError, EOFError, wave.Error) as trouble:
        raise _unusable(path, f"the file cannot be read as WAV: {trouble}") from trouble
    if width not in (1, 2, 4) or rate < 2 * TONE_TO_HZ:
        raise _unusable(path, f"{8 * width} bit at {rate} Hz is not enough to find the tone in")
    kind = np.dtype({1: "u1", 2: "<i2", 4: "<i4"}[width])
    frames = np.frombuffer(raw[: len(raw) // (width * channels) * width * channels], dtype=kind)
    samples = frames.reshape(-1, channels).mean(axis=1)
    if width == 1:
        samples = samples - 128.0
    return Sound(samples / float(1 << (8 * width - 1)), rate)


def write_wav(path: Path, samples: Samples, rate_hz: int) -> None:
    """One channel, 16 bit."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())


def find_tone(sound: Sound, device: str) -> float:
    """Seconds from the start of the sound to the start of the tone.

    Raises FeedscriptError (``sync-not-found``) when nothing in it stands out enough.
    """
    replica = tone(sound.rate_hz)
    if len(sound.samples) < len(replica):
        raise _not_found(device, "the sound is shorter than the tone")
    size = 1 << (len(sound.samples) + len(replica) - 1).bit_length()
    spectrum = np.fft.rfft(sound.samples, size) * np.conj(np.fft.rfft(replica, size))
    match = np.abs(np.fft.irfft(spectrum, size)[: len(sound.samples) - len(replica) + 1])
    best = int(np.argmax(match))
    typical = float(np.sqrt(np.mean(match**2)))
    if typical == 0.0 or match[best] < LEAST_PROMINENCE * typical:
        raise _not_found(device, "no place in the sound matches the tone well enough")
    return best / sound.rate_hz


def _not_found(device: str, message: str) -> FeedscriptError:
    return FeedscriptError(
        SYNC_NOT_FOUND.report(
            message,
            device=device,
            help="give the moment by hand: --offset '12.5 s', the tone's place in the video",
        )
    )


def _unusable(path: Path, message: str) -> FeedscriptError:
    return FeedscriptError(
        SYNC_NOT_FOUND.report(
            message,
            device=str(path),
            help="save the video's sound as 16-bit WAV at 16,000 Hz or more, or give --offset",
        )
    )
