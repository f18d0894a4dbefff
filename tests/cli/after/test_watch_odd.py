"""``feedscript watch`` given what it cannot use: each time a reason with its place, and a mend."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path

import av
import cv2
import numpy as np
import psutil
import pytest
from click.testing import Result

from tests.cli.after.test_watch import watch
from tests.watch.frames.writing import tone, write_sound_only, write_video
from tests.watch.ruler.drawn import draw, exact
from tests.watch.scene.lens import looking

SIZE = (640, 360)


@lru_cache
def court(wide: int = SIZE[0]) -> np.ndarray:
    size = (wide, wide * 9 // 16)
    lens = looking((2.8, 17.5, 2.8), (0.0, 2.0, 0.6), focal_px=0.69 * wide, size=size)
    return draw(lens, exact(), np.random.default_rng(1))


def filmed(path: Path, pictures: Sequence[np.ndarray], *, every: int = 1) -> Path:
    """These pictures, ten a second."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=10)
        height, width = pictures[0].shape
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.options = {"preset": "ultrafast", "crf": "16", "g": str(every)}
        for grey in pictures:
            out.mux(stream.encode(av.VideoFrame.from_ndarray(grey, format="gray")))
        out.mux(stream.encode())
    return path


def empty(path: Path) -> Path:
    path.write_bytes(b"")
    return path


def text(path: Path) -> Path:
    path.write_text("a shopping list\n" * 40)
    return path


def sound(path: Path) -> Path:
    write_sound_only(path.with_suffix(".m4a"), tone(1.0))
    return path.with_suffix(".m4a")


def cut(path: Path) -> Path:
    whole = filmed(path.with_name("whole.mp4"), [court()] * 5).read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    return path


def single(path: Path) -> Path:
    return write_video(path, [0.0])


def upside_down(path: Path) -> Path:
    return filmed(path, [np.ascontiguousarray(court()[::-1, ::-1])] * 4)


def screen(path: Path) -> Path:
    """A table on a screen: far more lines than a court has, and all of them straight."""
    grey = np.full(SIZE[::-1], 250, np.uint8)
    for y in range(40, SIZE[1], 28):
        grey[y : y + 2] = 120
    for x in range(60, SIZE[0], 110):
        grey[:, x : x + 2] = 120
    return filmed(path, [grey] * 4)


def garden(path: Path) -> Path:
    """A fence of planks over a lawn."""
    random = np.random.default_rng(4)
    grey = np.empty(SIZE[::-1])
    grey[:] = 90 + 40 * np.sign(np.sin(np.arange(SIZE[0]) / 9))
    grey[200:] = cv2.GaussianBlur(random.uniform(40, 160, (160, SIZE[0])), (0, 0), 3)
    grey += random.normal(0, 8, grey.shape)
    return filmed(path, [np.clip(grey, 0, 255).astype(np.uint8)] * 4)


def told(result: Result, slug: str, file: Path) -> None:
    """Refused, with its kind, its place and what mends it; and nothing of our own shown."""
    assert result.exit_code == 1, result.output
    assert slug in result.output
    assert f"at {file}" in result.output
    assert "fix:" in result.output
    assert "Traceback" not in result.output


@pytest.mark.parametrize(
    ("made", "slug"),
    [
        (empty, "video-unusable"),
        (text, "video-unusable"),
        (sound, "video-unusable"),
        (cut, "video-unusable"),
        (single, "video-unusable"),
        pytest.param(upside_down, "upside-down", marks=pytest.mark.long),
        (screen, "no-court-seen"),
        (garden, "no-court-seen"),
    ],
)
def test_what_is_no_film_of_a_court_is_refused_with_its_reason(
    tmp_path: Path, made: Callable[[Path], Path], slug: str
) -> None:
    file = made(tmp_path / "film.mp4")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        told(watch(file, "--camera-at", "receiver"), slug, file)


@pytest.mark.long
def test_a_film_whose_end_is_missing_is_used_as_far_as_it_goes_and_that_is_said(
    tmp_path: Path,
) -> None:
    whole = filmed(tmp_path / "whole.mkv", [court(960)] * 30, every=5).read_bytes()
    file = tmp_path / "film.mkv"
    file.write_bytes(whole[: len(whole) * 2 // 3])
    result = watch(file, "--camera-at", "receiver")
    assert result.exit_code == 0, result.output
    assert "video-damaged" in result.output
    assert "before the video does" in result.output


@pytest.mark.long
def test_a_huge_picture_needs_no_more_memory_than_a_large_one(tmp_path: Path) -> None:
    """4K, twelve times a 1080p film's pixels are never held at once."""
    large = cv2.resize(court(1280), (3840, 2160), interpolation=cv2.INTER_CUBIC)
    file = filmed(tmp_path / "film.mp4", [large] * 12)
    before = psutil.Process().memory_info().rss
    result = watch(file, "--camera-at", "receiver")
    assert result.exit_code == 0, result.output
    assert psutil.Process().memory_info().rss - before < 400e6
