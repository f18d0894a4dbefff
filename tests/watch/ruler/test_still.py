"""The still of a video: nobody on it, sharp though the camera shook, and a knock is noticed."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from feedscript.watch.frames.video import open_video
from feedscript.watch.ruler.still import PICTURES, laid_together, shift_px, still_of, way_onto
from tests.watch.ruler.drawn import draw, exact
from tests.watch.scene.lens import looking

TIMES_S = [float(n) for n in range(15)]


@lru_cache(maxsize=1)
def court() -> np.ndarray:
    lens = looking((2.8, 17.5, 2.8), (0.0, 2.0, 0.6), focal_px=440, size=(640, 360))
    return draw(lens, exact(), np.random.default_rng(1), noise=0.0)


def filmed(
    random: np.random.Generator, shift: tuple[float, float] = (0.0, 0.0), roll_deg: float = 0.0
) -> np.ndarray:
    """The court moved by so many pixels and turned about the middle, with noise."""
    way = cv2.getRotationMatrix2D((319.5, 179.5), -roll_deg, 1.0)
    way[:, 2] += shift
    moved = cv2.warpAffine(court(), way, (640, 360), borderMode=cv2.BORDER_REPLICATE)
    return np.clip(moved + random.normal(0, 2, moved.shape), 0, 255).astype(np.uint8)


def with_somebody(grey: np.ndarray, x: int) -> np.ndarray:
    grey = grey.copy()
    cv2.ellipse(grey, ((float(x), 200.0), (30.0, 90.0), 0.0), 30, -1)
    return grey


def test_who_walks_about_is_not_on_the_still() -> None:
    random = np.random.default_rng(2)
    pictures = [with_somebody(filmed(random), 60 + 35 * n) for n in range(15)]
    still = laid_together(pictures, TIMES_S)
    # A person is 50 grey steps darker, over a twentieth of a picture; edges may be a little off.
    off = np.abs(still.grey.astype(float) - court())
    assert (off > 15).mean() < 1e-3
    assert off.mean() < 1.0
    assert still.moved_at_s is None
    assert still.troubles("film.mp4") == ()


def test_a_shaking_camera_leaves_a_sharp_still() -> None:
    random = np.random.default_rng(3)
    pictures = [filmed(random, tuple(random.normal(0, 1.5, 2))) for _ in range(15)]
    pictures[7] = filmed(random)  # onto which the others are laid
    still = laid_together(pictures, TIMES_S)
    edges = cv2.morphologyEx(court(), cv2.MORPH_GRADIENT, np.ones((3, 3))) > 40
    edges[:12] = edges[-12:] = edges[:, :12] = edges[:, -12:] = False
    off, off_if_not_laid = (
        np.abs(grey - court().astype(float))[edges].mean()
        for grey in (still.grey, np.median(pictures, axis=0))
    )
    assert off < 0.5 * off_if_not_laid


@pytest.mark.parametrize(("shift", "roll_deg"), [((2.3, -1.4), 0.0), ((0.4, 3.0), 0.25)])
def test_the_way_from_one_picture_to_another(shift: tuple[float, float], roll_deg: float) -> None:
    random = np.random.default_rng(4)
    way = way_onto(filmed(random), filmed(random, shift, roll_deg))
    assert way is not None
    wanted = cv2.getRotationMatrix2D((319.5, 179.5), -roll_deg, 1.0)
    wanted[:, 2] += shift
    corners = np.array([[0, 0, 1], [639, 0, 1], [0, 359, 1], [639, 359, 1.0]])
    assert np.abs(corners @ way.T - corners @ wanted.T).max() < 0.25
    assert shift_px(way, court()) > 1.0


def test_a_knock_is_told_with_its_time_and_what_came_after_is_left_out() -> None:
    random = np.random.default_rng(5)
    pictures = [filmed(random, (0.0, 0.0) if n < 10 else (25.0, 14.0)) for n in range(15)]
    still = laid_together(pictures, TIMES_S)
    assert still.moved_at_s == 10.0
    (told,) = still.troubles("film.mp4")
    assert told.slug == "camera-moved"
    assert "moved at about 10 s" in told.message
    assert np.abs(still.grey.astype(float) - court()).mean() < 1.5


def test_somebody_in_front_of_the_camera_for_a_moment_is_no_knock() -> None:
    random = np.random.default_rng(6)
    pictures = [filmed(random) for _ in range(15)]
    pictures[4] = np.full((360, 640), 40, np.uint8)
    assert laid_together(pictures, TIMES_S).moved_at_s is None


def test_the_still_of_a_video(tmp_path: Path) -> None:
    random = np.random.default_rng(7)
    path = tmp_path / "court.mkv"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=10)
        stream.width, stream.height, stream.pix_fmt = 640, 360, "yuv420p"
        stream.options = {"preset": "ultrafast", "g": "10"}
        for n in range(60):
            grey = with_somebody(filmed(random), 40 + 9 * n)
            out.mux(stream.encode(av.VideoFrame.from_ndarray(grey, format="gray")))
        out.mux(stream.encode())
    told: list[float] = []
    still = still_of(open_video(path), progress=told.append)
    assert np.abs(still.grey.astype(float) - court()).mean() < 2.5
    assert len(told) == PICTURES
    assert told[-1] == 1.0
