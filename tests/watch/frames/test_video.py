"""Reading a video: the right picture at the right time, upright, or a reason why not."""

from __future__ import annotations

import contextlib
import gc
import wave
from fractions import Fraction
from itertools import islice
from pathlib import Path

import av
import numpy as np
import psutil
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from feedscript.diagnostics import FeedscriptError
from feedscript.watch.frames.sound import blocks, samples
from feedscript.watch.frames.video import Frames, open_video
from tests.watch.frames.writing import (
    SOUND_HZ,
    number_of,
    numbered,
    tone,
    turned,
    write_sound_only,
    write_video,
)

EVEN = tuple(n / 30 for n in range(60))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("videos")


@pytest.fixture(scope="module")
def plain(folder: Path) -> Path:
    """Two seconds at 30 Hz, with sound; its table at the front, as after a transfer."""
    options = {"movflags": "+faststart"}
    return write_video(folder / "plain.mp4", EVEN, sound=tone(2.0), options=options)


def refusal(path: Path) -> str:
    with pytest.raises(FeedscriptError) as refused:
        list(open_video(path))
    found = refused.value.diagnostic
    assert found.slug == "video-unusable"
    assert found.device == str(path)
    assert found.help
    return found.message


def test_what_a_video_is(plain: Path) -> None:
    video = open_video(plain)
    assert (video.width_px, video.height_px) == (320, 180)
    assert video.rate_hz == pytest.approx(30.0, rel=1e-3)
    assert video.duration_s == pytest.approx(2.0, abs=0.05)
    assert video.has_sound
    assert video.steady


@pytest.mark.parametrize(
    ("name", "codec"),
    [
        ("a.mp4", "libx264"),
        ("a.mkv", "libx264"),
        ("a.avi", "mjpeg"),
        ("a.mov", "mpeg4"),
        ("a.webm", "libvpx"),
    ],
)
def test_each_picture_comes_once_at_its_own_time(folder: Path, name: str, codec: str) -> None:
    video = open_video(write_video(folder / name, EVEN, codec=codec))
    seen = [(number_of(frame.grey), frame.time_s) for frame in video]
    assert [number for number, _ in seen] == list(range(60))
    assert np.abs(np.array([time_s for _, time_s in seen]) - EVEN).max() < 2e-3
    assert video.duration_s == pytest.approx(2.0, abs=0.05)
    assert not video.has_sound


def test_to_what_a_files_times_are_rounded(folder: Path, plain: Path) -> None:
    assert 0 < open_video(plain).tick_s < 1e-4
    assert open_video(write_video(folder / "ms.mkv", EVEN)).tick_s == 1e-3
    counted = folder / "counted.avi"  # has no times: a picture is the number that it is
    with av.open(str(counted), "w") as out:
        stream = out.add_stream("mpeg4", rate=25)
        stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv420p"
        for number in range(10):
            picture = av.VideoFrame.from_ndarray(numbered(number, 320, 180), format="gray")
            out.mux(stream.encode(picture))
        out.mux(stream.encode())
    assert open_video(counted).tick_s == 0.0


@settings(max_examples=6, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    gaps=st.lists(st.sampled_from([1 / 240, 1 / 120, 1 / 60, 1 / 30, 0.2]), min_size=8, max_size=24)
)
def test_changing_rates_keep_every_pictures_own_time(folder: Path, gaps: list[float]) -> None:
    times_s = np.cumsum([0.0, *gaps])
    video = open_video(write_video(folder / "changing.mp4", times_s))
    seen = [(number_of(frame.grey), frame.time_s) for frame in video]
    assert [number for number, _ in seen] == list(range(len(times_s)))
    assert np.abs(np.array([time_s for _, time_s in seen]) - times_s).max() < 1e-3
    assert video.rate_hz == pytest.approx(1 / np.median(gaps), rel=0.01)


def test_a_rate_that_changes_is_told(folder: Path) -> None:
    times_s = np.cumsum([0.0, *([1 / 30, 1 / 60] * 20)])
    assert not open_video(write_video(folder / "uneven.mp4", times_s)).steady


@pytest.mark.parametrize(
    ("turn", "quarters", "mirrored"),
    [
        ("none", 0, False),
        ("right", -1, False),
        ("half", 2, False),
        ("left", 1, False),
        ("mirrored", 0, True),
    ],
)
def test_a_picture_is_upright_however_the_camera_was_held(
    folder: Path, turn: str, quarters: int, mirrored: bool
) -> None:
    video = open_video(turned(write_video(folder / f"turned_{turn}.mp4", EVEN[:10]), turn))
    wanted = np.rot90(numbered(0), quarters)
    wanted = wanted[:, ::-1] if mirrored else wanted
    frame = next(iter(video))
    assert (video.height_px, video.width_px) == wanted.shape == frame.grey.shape
    assert np.abs(frame.grey.astype(float) - wanted).mean() < 3
    colour = frame.coloured()
    assert colour.shape == (*wanted.shape, 3)
    assert np.abs(colour.mean(2) - wanted).mean() < 4


def test_stored_pixels_that_are_not_square_are_made_so(folder: Path) -> None:
    path = write_video(folder / "narrow.mkv", EVEN[:10], size=(240, 180), pixel=Fraction(4, 3))
    video = open_video(path)
    assert (video.width_px, video.height_px) == (320, 180)
    assert next(iter(video)).grey.shape == (180, 320)


def test_sound_that_begins_before_the_picture_keeps_one_clock(folder: Path) -> None:
    """The video's beginning is its file's, for pictures and sound alike."""
    path = write_video(folder / "late.mkv", [0.5 + t for t in EVEN], sound=tone(2.0))
    assert next(iter(open_video(path))).time_s == pytest.approx(0.5, abs=0.03)
    assert samples(path).start_s == pytest.approx(0.0, abs=0.03)


# What cannot be read.


def test_no_file(folder: Path) -> None:
    assert "No such file" in refusal(folder / "nowhere.mp4")


def test_a_folder(folder: Path) -> None:
    assert "it is a folder" in refusal(folder)


def test_an_empty_file(folder: Path) -> None:
    path = folder / "empty.mp4"
    path.write_bytes(b"")
    assert refusal(path) == "the file is empty"


@pytest.mark.parametrize(
    "data", [b"hello, court\n" * 500, bytes(5000), b"\x89PNG\r\n\x1a\n" + bytes(900)]
)
def test_no_video(folder: Path, data: bytes) -> None:
    path = folder / "other.mp4"
    path.write_bytes(data)
    assert "it is no video, or of a kind that is not read here" in refusal(path)


def test_sound_only(folder: Path) -> None:
    path = write_sound_only(folder / "sound.m4a", tone(1.0))
    assert refusal(path) == "the file has sound, but no pictures"


def test_a_file_cut_before_its_table(folder: Path) -> None:
    whole = write_video(folder / "table_last.mp4", EVEN).read_bytes()
    path = folder / "cut.mp4"
    path.write_bytes(whole[: len(whole) // 2])
    assert "the table of its pictures is missing, as in a file that was cut" in refusal(path)


def test_pictures_too_large_for_any_machine(folder: Path) -> None:
    path = write_video(folder / "huge.avi", EVEN[:1], size=(8192, 4608), codec="mjpeg")
    assert refusal(path) == "its pictures have no size, or more than 36 million pixels"


def test_one_picture_is_no_video(folder: Path) -> None:
    assert "it has one picture only" in refusal(write_video(folder / "one.mkv", [0.0]))


@pytest.mark.parametrize(
    "text",
    [
        "#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\n{0}\n#EXT-X-ENDLIST\n",
        "ffconcat version 1.0\nfile '{0}'\n",
    ],
)
def test_a_list_that_names_other_files_opens_none(folder: Path, plain: Path, text: str) -> None:
    path = folder / "list.mp4"
    path.write_text(text.format(plain))
    assert "it is no video" in refusal(path)


# What can be read in part.


def test_a_file_cut_after_its_table_gives_what_is_there(folder: Path, plain: Path) -> None:
    data = plain.read_bytes()
    path = folder / "short.mp4"
    path.write_bytes(data[: len(data) * 6 // 10])
    frames = Frames(open_video(path))
    seen = [(number_of(frame.grey), frame.time_s) for frame in frames]
    assert 5 < len(seen) < 55
    assert all(abs(time_s - EVEN[number]) < 2e-3 for number, time_s in seen)
    (told,) = frames.troubles
    assert told.slug == "video-damaged"
    assert not told.is_error


def test_a_whole_file_has_no_troubles(plain: Path) -> None:
    frames = Frames(open_video(plain))
    assert len(list(frames)) == 60
    assert frames.troubles == ()
    assert frames.progress == pytest.approx(1.0, abs=0.05)


def test_reading_begins_where_it_is_asked_to(plain: Path) -> None:
    with Frames(open_video(plain), from_s=1.5) as frames:
        first = next(iter(frames))
    assert first.time_s == pytest.approx(1.5, abs=1e-3)
    assert number_of(first.grey) == 45


def test_giving_up_lets_go_of_the_file(plain: Path) -> None:
    process = psutil.Process()
    before = len(process.open_files())
    with Frames(open_video(plain)) as frames:
        next(iter(frames))
        assert len(process.open_files()) == before + 1
        assert 0.0 <= frames.progress < 0.1
    assert len(process.open_files()) == before


def test_a_long_video_needs_no_more_memory_than_a_short_one(folder: Path) -> None:
    """Two hundred pictures of a megabyte each pass through, and few are held."""
    path = write_video(folder / "long.mkv", [n / 60 for n in range(200)], size=(1280, 720))
    video = open_video(path)
    frames = iter(video)
    for _ in range(40):
        next(frames)
    gc.collect()
    before = psutil.Process().memory_info().rss
    most = max(psutil.Process().memory_info().rss for _ in frames)
    assert most - before < 60_000_000


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@example(keep=0.0, flips=[])
@example(keep=1.0, flips=[])
@given(
    keep=st.floats(0.0, 1.0),
    flips=st.lists(st.tuples(st.floats(0, 1), st.integers(1, 255)), max_size=40),
)
def test_whatever_was_done_to_a_file_there_is_a_reason_and_no_wrong_time(
    folder: Path, plain: Path, keep: float, flips: list[tuple[float, int]]
) -> None:
    """Cut anywhere, bytes flipped anywhere: a refusal with its reason, or pictures in order."""
    data = bytearray(plain.read_bytes())
    data = data[: round(keep * len(data))]
    for place, mask in flips:
        if data:
            data[min(int(place * len(data)), len(data) - 1)] ^= mask
    path = folder / "damaged.mp4"
    path.write_bytes(data)
    with contextlib.suppress(FeedscriptError):  # which carries its reason
        video = open_video(path)
        with Frames(video) as frames:
            seen = list(islice(frames, 300))
        assert all(frame.grey.shape == (video.height_px, video.width_px) for frame in seen)
        assert (np.diff([frame.time_s for frame in seen]) > 0).all()
        assert 0 < video.rate_hz < np.inf
        assert 0 < video.duration_s < np.inf
    with contextlib.suppress(FeedscriptError):
        assert np.isfinite(samples(path, to_s=10.0).samples).all()


def test_the_reader_is_quiet(plain: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """What the library has to say of damage goes into the diagnostic, not past the screens."""
    data = bytearray(plain.read_bytes())
    data[-3000:-1000] = bytes(2000)
    path = plain.with_name("noisy.mp4")
    path.write_bytes(data)
    list(open_video(path))
    assert capfd.readouterr() == ("", "")


# Sound.


def test_sound_is_what_was_played_at_its_own_rate(plain: Path) -> None:
    heard = samples(plain)
    assert heard.rate_hz == SOUND_HZ
    assert heard.samples.dtype == np.float32
    assert len(heard.samples) / SOUND_HZ == pytest.approx(2.0, abs=0.1)
    part = heard.samples[SOUND_HZ // 2 : SOUND_HZ * 3 // 2]
    spectrum = np.abs(np.fft.rfft(part))
    assert np.argmax(spectrum) * SOUND_HZ / len(part) == pytest.approx(440, abs=2)
    assert np.abs(part).max() == pytest.approx(0.5, abs=0.05)


def test_a_part_of_the_sound_says_where_it_begins(folder: Path) -> None:
    click = np.zeros(2 * SOUND_HZ)
    click[SOUND_HZ * 5 // 4 :][:40] = 0.9
    path = write_video(folder / "click.mkv", EVEN, sound=click)
    heard = samples(path, from_s=1.0, to_s=1.6)
    at_s = heard.start_s + int(np.argmax(np.abs(heard.samples))) / heard.rate_hz
    assert at_s == pytest.approx(1.25, abs=0.005)
    assert len(heard.samples) == round((1.6 - heard.start_s) * SOUND_HZ)


def test_a_silent_video_says_so(folder: Path) -> None:
    path = write_video(folder / "silent.mp4", EVEN[:10])
    with pytest.raises(FeedscriptError) as refused:
        samples(path)
    assert refused.value.diagnostic.slug == "video-silent"
    assert refused.value.diagnostic.message == "the file has no sound"


@pytest.mark.parametrize("rate_hz", [300, 2_000_000_000])
def test_sound_at_a_rate_that_no_camera_writes_is_refused(folder: Path, rate_hz: int) -> None:
    """As a damaged file says: too slow for a thump, or so fast that a second of it has no room."""
    path = folder / f"{rate_hz}.wav"
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(rate_hz)
        out.writeframes(bytes(2_000))
    with pytest.raises(FeedscriptError) as refused:
        list(blocks(path))
    assert refused.value.diagnostic.slug == "video-silent"
    assert f"{rate_hz} samples a second" in refused.value.diagnostic.message


def test_a_hole_in_the_sound_keeps_what_comes_after_in_its_place(folder: Path) -> None:
    path = folder / "hole.mkv"
    click = np.zeros(SOUND_HZ)
    click[SOUND_HZ // 2 :][:40] = 0.9
    with av.open(str(path), "w") as out:
        stream = out.add_stream("pcm_s16le", rate=SOUND_HZ, layout="mono")
        for at_s in (0.0, 2.0):
            values = (click * 32767).astype(np.int16)[None]
            piece = av.AudioFrame.from_ndarray(values, format="s16", layout="mono")
            piece.rate, piece.pts, piece.time_base = (
                SOUND_HZ,
                round(at_s * SOUND_HZ),
                Fraction(1, SOUND_HZ),
            )
            out.mux(stream.encode(piece))
        out.mux(stream.encode())
    heard = samples(path)
    assert len(heard.samples) == pytest.approx(3 * SOUND_HZ, abs=40)
    loud = np.flatnonzero(heard.samples > 0.5) / SOUND_HZ
    assert loud.min() == pytest.approx(0.5, abs=0.005)
    assert loud.max() == pytest.approx(2.5, abs=0.005)
