"""The sync tone is found where it lies, under noise, and never where it is not."""

from __future__ import annotations

import struct
import wave
from pathlib import Path

import numpy as np
import pytest

from feedscript.diagnostics import FeedscriptError
from feedscript.review.video.sync import tone, tones_in, video_clock
from tests.review.wav import write_wav

RATE_HZ = 16_000


def court_noise(seconds: float, seed: int, rate_hz: int = RATE_HZ) -> np.ndarray:
    """Wind, voices in the tone's own band, and ball strikes as sharp bursts."""
    chance = np.random.default_rng(seed)
    noise = 0.05 * chance.standard_normal(round(seconds * rate_hz))
    t = np.arange(len(noise)) / rate_hz
    noise += 0.1 * np.sin(2 * np.pi * 1800 * t) * (np.sin(2 * np.pi * 0.7 * t) > 0)
    for _ in range(round(seconds / 3)):
        at = chance.integers(0, len(noise) - 200)
        noise[at : at + 200] += 0.8 * chance.standard_normal(200) * np.exp(-np.arange(200) / 40)
    return noise


def with_tone(
    sound: np.ndarray, at_s: float, loudness: float = 0.3, rate_hz: int = RATE_HZ
) -> np.ndarray:
    """The sound with the tone in it, cut where it lies over an end."""
    heard, begins = loudness * tone(rate_hz), round(at_s * rate_hz)
    first, last = max(begins, 0), min(begins + len(heard), len(sound))
    sound[first:last] += heard[first - begins : last - begins]
    return sound


def find(path: Path, channels: np.ndarray, rate_hz: int = RATE_HZ) -> tuple[float, ...]:
    write_wav(path, channels, rate_hz)
    return tones_in(path)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "video.wav"


@pytest.mark.parametrize("seed", range(4))
def test_the_tone_is_found_within_5_ms_under_the_noise_of_a_court(seed: int, path: Path) -> None:
    at_s = float(np.random.default_rng(100 + seed).uniform(0, 59))
    found = find(path, with_tone(court_noise(60.0, seed), at_s))
    assert found == pytest.approx((at_s,), abs=0.005)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000, 22_050, 44_100, 48_000, 96_000])
@pytest.mark.parametrize("loudness", [0.9, 0.003])
def test_any_sampling_rate_and_loudness_will_do(rate_hz: int, loudness: float, path: Path) -> None:
    sound = 0.01 * loudness * court_noise(8.0, 1, rate_hz)
    found = find(path, with_tone(sound, 5.3, loudness, rate_hz), rate_hz)
    assert found == pytest.approx((5.3,), abs=0.005)


def test_the_tone_in_otherwise_silent_sound_is_found(path: Path) -> None:
    assert find(path, with_tone(np.zeros(RATE_HZ), 0.3)) == pytest.approx((0.3,), abs=0.005)


@pytest.mark.parametrize("other", ["silent", "noise", "turned over"])
def test_stereo_needs_the_tone_in_one_channel_only(other: str, path: Path) -> None:
    heard = with_tone(court_noise(20.0, 3), 7.0)
    second = {
        "silent": np.zeros_like(heard),
        "noise": court_noise(20.0, 4),
        "turned over": -heard,
    }[other]
    for channels in ([heard, second], [second, heard]):
        assert find(path, np.array(channels)) == pytest.approx((7.0,), abs=0.005)


@pytest.mark.parametrize("at_s", [0.0, 0.001, 39.6, 19.9, 20.0, 20.1])
def test_a_tone_at_an_end_or_across_two_blocks_is_found(at_s: float, path: Path) -> None:
    assert find(path, with_tone(court_noise(40.0, 5), at_s)) == pytest.approx((at_s,), abs=0.005)


@pytest.mark.parametrize("at_s", [-0.15, 39.75])
def test_a_tone_that_is_cut_still_has_its_place(at_s: float, path: Path) -> None:
    assert find(path, with_tone(court_noise(40.0, 6), at_s)) == pytest.approx((at_s,), abs=0.005)


def test_two_tones_are_two(path: Path) -> None:
    sound = with_tone(with_tone(court_noise(60.0, 7), 9.0), 47.5, 0.1)
    assert find(path, sound) == pytest.approx((9.0, 47.5), abs=0.005)


def test_an_echo_is_no_second_tone(path: Path) -> None:
    sound = with_tone(with_tone(court_noise(20.0, 8), 9.0), 9.12, 0.2)
    assert find(path, sound) == pytest.approx((9.0,), abs=0.005)


def falling(rate_hz: int) -> np.ndarray:
    return tone(rate_hz)[::-1]


@pytest.mark.parametrize("seed", range(4))
def test_a_sound_without_the_tone_is_refused(seed: int, path: Path) -> None:
    sound = court_noise(60.0, seed)
    if seed % 2:  # something much like it, and much louder
        sound[16_000 : 16_000 + len(tone(RATE_HZ))] += falling(RATE_HZ)
    with pytest.raises(FeedscriptError) as refused:
        find(path, sound)
    assert refused.value.diagnostic.slug == "sync-not-found"
    assert "--offset" in refused.value.diagnostic.help


@pytest.mark.parametrize("sound", [np.zeros(0), np.zeros(10), np.zeros(RATE_HZ * 30)])
def test_silence_is_refused(sound: np.ndarray, path: Path) -> None:
    with pytest.raises(FeedscriptError) as refused:
        find(path, sound)
    assert refused.value.diagnostic.slug == "sync-not-found"


@pytest.mark.parametrize("width", [1, 2, 3, 4])
def test_samples_of_any_width_are_read(width: int, path: Path) -> None:
    sound = with_tone(0.1 * court_noise(5.0, 9), 2.5, 0.5)
    whole = np.round(np.clip(sound, -1, 1) * (2 ** (8 * width - 1) - 1)).astype("<i4")
    raw = whole.view(np.uint8).reshape(-1, 4)[:, :width]
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(width)
        file.setframerate(RATE_HZ)
        file.writeframes(raw.tobytes() if width > 1 else (whole + 128).astype(np.uint8).tobytes())
    assert tones_in(path) == pytest.approx((2.5,), abs=0.005)


@pytest.mark.parametrize("content", [b"", b"RIFF", b"not a sound at all" * 50])
def test_what_is_no_wav_is_a_diagnostic(content: bytes, path: Path) -> None:
    path.write_bytes(content)
    with pytest.raises(FeedscriptError) as refused:
        tones_in(path)
    assert refused.value.diagnostic.slug == "sound-unusable"


def test_too_low_a_rate_is_a_diagnostic_and_not_a_wrong_place(path: Path) -> None:
    with pytest.raises(FeedscriptError) as refused:
        find(path, np.zeros(6000), 6000)
    assert refused.value.diagnostic.slug == "sound-unusable"


def test_a_file_that_was_cut_off_is_read_as_far_as_it_goes(path: Path) -> None:
    write_wav(path, with_tone(court_noise(10.0, 2), 3.0), RATE_HZ)
    path.write_bytes(path.read_bytes()[:200_001])
    assert tones_in(path) == pytest.approx((3.0,), abs=0.005)


@pytest.mark.parametrize(
    ("heard", "played", "start"),
    [
        ((7.0,), (107.0,), 100.0),
        ((-0.2,), (107.0,), 107.2),
        ((7.0, 47.0), (107.03, 147.0), 100.0),
        ((47.0,), (107.0, 147.0), None),  # it could be either
        ((7.0, 47.0), (107.0,), None),
        ((7.0, 47.0), (60.0, 107.0, 147.0), 100.0),  # the camera missed the first
        ((7.0, 47.0), (107.0, 147.0, 187.0), None),  # the last, or the first, was missed
    ],
)
def test_tones_are_laid_beside_one_another_only_where_one_way_fits_best(
    heard: tuple[float, ...], played: tuple[float, ...], start: float | None
) -> None:
    if start is None:
        with pytest.raises(FeedscriptError) as refused:
            video_clock(heard, played, "video.wav")
        assert refused.value.diagnostic.slug == "sync-not-found"
        assert "--tone" in refused.value.diagnostic.help
    else:
        clock = video_clock(heard, played, "video.wav")
        assert clock.start_utc_s == pytest.approx(start, abs=0.05)


HOUR_S = 3600.0


@pytest.mark.parametrize("gain", [-100e-6, -50e-6, 0.0, 50e-6, 100e-6])
@pytest.mark.parametrize("first", [None, 0])
def test_two_tones_tell_how_the_videos_clock_goes(gain: float, first: int | None) -> None:
    """Marks lie right at both ends of an hour, and half an hour past the last tone."""
    played = (1.8e9 + 60.0, 1.8e9 + HOUR_S)
    heard = tuple((1.0 + gain) * (at - 1.8e9) for at in played)
    clock = video_clock(heard, played, "video.wav", first)
    assert clock.tones == 2
    for after_s in (0.0, 60.0, HOUR_S / 2, HOUR_S, 1.5 * HOUR_S):
        assert clock.video_s(1.8e9 + after_s) == pytest.approx((1.0 + gain) * after_s, abs=0.05)


def test_what_a_loudspeaker_is_late_by_is_not_taken_for_a_clock() -> None:
    """A minute between two tones says nothing of a clock; an hour later the marks are right."""
    played, heard = (1.8e9, 1.8e9 + 60.0), (0.0, 60.09)
    clock = video_clock(heard, played, "video.wav")
    assert clock.video_s(1.8e9 + HOUR_S) == pytest.approx(HOUR_S, abs=0.15)


def test_the_error_that_is_stated_holds_for_ordinary_clocks_in_19_of_20_cases() -> None:
    chance = np.random.default_rng(1)
    for tones, after_s in ((1, HOUR_S), (2, HOUR_S), (2, 2 * HOUR_S)):
        off, worst = 0, 0.0
        for _ in range(400):
            gain = np.clip(chance.normal(0.0, 45e-6), -100e-6, 100e-6)  # what clocks keep to
            played = (1.8e9, 1.8e9 + HOUR_S)[:tones]
            late = chance.normal(0.0, 0.025, tones)
            heard = [(1 + gain) * (at - 1.8e9) + by for at, by in zip(played, late, strict=True)]
            clock = video_clock(heard, played, "video.wav")
            true_s = (1 + gain) * after_s
            wrong_s = abs(clock.video_s(1.8e9 + after_s) - true_s)
            off += wrong_s > clock.error_s(true_s)
            worst = max(worst, wrong_s)
        assert off <= 20, (tones, after_s, off, worst)


def test_one_tone_says_what_it_leaves_open() -> None:
    one = video_clock((5.0,), (1.8e9 + 5.0,), "video.wav")
    two = video_clock((5.0, 5.0 + HOUR_S), (1.8e9 + 5.0, 1.8e9 + 5.0 + HOUR_S), "video.wav")
    assert one.error_s(5.0) < 0.1
    assert 0.3 < one.error_s(HOUR_S) < 0.5
    assert two.error_s(HOUR_S) < 0.1
    assert "second tone" in one.words()
    assert "second tone" not in two.words()


@pytest.mark.parametrize("width", [2, 3])
def test_the_extensible_header_of_a_wav_is_read(width: int, path: Path) -> None:
    """Built field by field from the format's description, not by the reader's own library."""
    sound = with_tone(0.1 * court_noise(5.0, 9), 2.5, 0.5)
    whole = np.round(np.clip(sound, -1, 1) * (2 ** (8 * width - 1) - 1)).astype("<i4")
    both = np.stack([whole, whole]).T.reshape(-1)
    data = both.view(np.uint8).reshape(-1, 4)[:, :width].tobytes()
    path.write_bytes(extensible(data, width, plain=True))
    assert tones_in(path) == pytest.approx((2.5,), abs=0.005)


def test_samples_that_are_no_whole_numbers_are_a_diagnostic(path: Path) -> None:
    path.write_bytes(extensible(b"\x00" * 400, 4, plain=False))
    with pytest.raises(FeedscriptError) as refused:
        tones_in(path)
    assert refused.value.diagnostic.slug == "sound-unusable"
    assert "16-bit PCM" in refused.value.diagnostic.help


def extensible(data: bytes, width: int, *, plain: bool) -> bytes:
    kind = (1 if plain else 3).to_bytes(2, "little")
    guid = kind + bytes.fromhex("000000001000800000aa00389b71")
    form = struct.pack("<HHIIHH", 0xFFFE, 2, RATE_HZ, RATE_HZ * 2 * width, 2 * width, 8 * width)
    form += struct.pack("<HHI", 22, 8 * width, 3) + guid
    chunks = b"JUNK" + struct.pack("<I", 3) + b"abc\0"
    chunks += b"fmt " + struct.pack("<I", len(form)) + form
    chunks += b"data" + struct.pack("<I", len(data)) + data
    return b"RIFF" + struct.pack("<I", 4 + len(chunks)) + b"WAVE" + chunks
