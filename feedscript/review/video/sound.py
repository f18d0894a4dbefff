"""The sound of a video, read from a WAV file in blocks, so that an hour needs little memory."""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec
import numpy as np
import numpy.typing as npt

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.plain_file import see_that_it_is_a_file

SOUND_UNUSABLE = Page(
    slug="sound-unusable",
    title="The sound cannot be read",
    why=(
        "The sync tone is looked for in an uncompressed WAV file, which most programs that cut "
        "video can save. It must carry tones up to 3,600 Hz."
    ),
)

Samples = npt.NDArray[np.float64]


class Sound(msgspec.Struct, frozen=True):
    """An open sound: samples a second, how many, and the file to read blocks from."""

    rate_hz: int
    length: int
    file: wave.Wave_read

    def blocks(self, size: int) -> Iterator[Samples]:
        """The channels from -1 to 1, shape (channels, up to ``size``), from start to end."""
        self.file.rewind()
        width, channels = self.file.getsampwidth(), self.file.getnchannels()
        while raw := self.file.readframes(size):
            whole = len(raw) // (width * channels) * width * channels  # a cut file ends anywhere
            if not whole:
                return
            yield _samples(raw[:whole], width).reshape(-1, channels).T


def _samples(raw: bytes, width: int) -> Samples:
    if width == 1:
        return (np.frombuffer(raw, np.uint8).astype(np.float64) - 128.0) / 128.0
    if width == 3:
        padded = np.zeros((len(raw) // 3, 4), np.uint8)
        padded[:, 1:] = np.frombuffer(raw, np.uint8).reshape(-1, 3)
        return padded.view("<i4").ravel().astype(np.float64) / float(1 << 31)
    whole = np.frombuffer(raw, {2: "<i2", 4: "<i4"}[width])
    return whole.astype(np.float64) / float(1 << (8 * width - 1))


@contextmanager
def opened_sound(path: Path, least_rate_hz: float) -> Iterator[Sound]:
    """The sound of a WAV file. Raises FeedscriptError if it is none, or of too low a rate."""
    try:
        see_that_it_is_a_file(path)
        with _PlainHeader(path) as plain, wave.open(plain, "rb") as file:
            rate_hz = file.getframerate()
            if rate_hz < least_rate_hz:
                raise _unusable(path, f"{rate_hz} samples a second are too few for the tone")
            yield Sound(rate_hz, file.getnframes(), file)
    except (OSError, EOFError, wave.Error) as trouble:
        raise _unusable(path, f"the file cannot be read as WAV: {trouble}") from trouble


class _PlainHeader(io.BufferedReader):
    """A WAV file whose extensible header, if it holds plain samples, reads as the old short one.

    Recorders of many channels or of 24 bits write the extensible one (Microsoft, "Multiple Channel
    Audio Data and WAVE Files", 2001), which Python's reader knows from 3.12 on only.
    """

    def __init__(self, path: Path) -> None:
        super().__init__(io.FileIO(path))
        self._tag_at = self._extensible_tag()
        self.seek(0)

    def read(self, size: int | None = -1, /) -> bytes:
        at, data = self.tell(), super().read(size)
        within = -1 if self._tag_at is None else self._tag_at - at
        if not 0 <= within < len(data):
            return data
        return (data[:within] + b"\x01\x00" + data[within + 2 :])[: len(data)]

    def _extensible_tag(self) -> int | None:
        """Where the header says that it is extensible and its samples are plain (PCM)."""
        self.seek(12)
        while len(head := super().read(8)) == 8:
            size = int.from_bytes(head[4:], "little")
            if head[:4] != b"fmt ":
                self.seek(size + size % 2, io.SEEK_CUR)
                continue
            tag_at, form = self.tell(), super().read(40)
            plain = len(form) == 40 and form[:2] == b"\xfe\xff" and form[24:26] == b"\x01\x00"
            return tag_at if plain else None
        return None


def _unusable(path: Path, message: str) -> FeedscriptError:
    return FeedscriptError(
        SOUND_UNUSABLE.report(
            message,
            device=str(path),
            help="save the sound as 16-bit PCM WAV, for instance: "
            "ffmpeg -i VIDEO -vn -ac 1 -ar 16000 -c:a pcm_s16le sound.wav; "
            "or give the first ball's place by hand: --offset '12.5 s'",
        )
    )
