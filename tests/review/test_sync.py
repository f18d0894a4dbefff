"""The sync tone is found where it lies, under noise, and never where it is not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feedscript.diagnostics import FeedscriptError
from feedscript.review.sync import find_tone, read_wav, tone, write_wav

RATE_HZ = 16_000


def court_noise(seconds: float, seed: int) -> np.ndarray:
    """Wind, voices in the tone's own band, and ball strikes as sharp bursts."""
    chance = np.random.default_rng(seed)
    noise = 0.05 * chance.standard_normal(round(seconds * RATE_HZ))
    t = np.arange(len(noise)) / RATE_HZ
    noise += 0.1 * np.sin(2 * np.pi * 1800 * t) * (np.sin(2 * np.pi * 0.7 * t) > 0)
    for _ in range(round(seconds / 3)):
        at = chance.integers(0, len(noise) - 200)
        noise[at : at + 200] += 0.8 * chance.standard_normal(200) * np.exp(-np.arange(200) / 40)
    return noise


@pytest.mark.parametrize("seed", range(8))
def test_the_tone_is_found_within_5_ms_under_the_noise_of_a_court(
    seed: int, tmp_path: Path
) -> None:
    sound = court_noise(60.0, seed)
    at = int(np.random.default_rng(100 + seed).integers(0, 59 * RATE_HZ))
    sound[at : at + len(tone(RATE_HZ))] += 0.3 * tone(RATE_HZ)
    path = tmp_path / "video.wav"
    write_wav(path, sound, RATE_HZ)
    assert find_tone(read_wav(path), "video.wav") == pytest.approx(at / RATE_HZ, abs=0.005)


@pytest.mark.parametrize("seed", range(8))
def test_a_sound_without_the_tone_is_refused(seed: int, tmp_path: Path) -> None:
    path = tmp_path / "video.wav"
    write_wav(path, court_noise(60.0, seed), RATE_HZ)
    with pytest.raises(FeedscriptError) as refused:
        find_tone(read_wav(path), "video.wav")
    assert refused.value.diagnostic.slug == "sync-not-found"
    assert "--offset" in refused.value.diagnostic.help


@pytest.mark.parametrize("content", [b"", b"RIFF", b"not a sound at all" * 50])
def test_what_is_no_wav_is_a_diagnostic(content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "video.wav"
    path.write_bytes(content)
    with pytest.raises(FeedscriptError):
        read_wav(path)
