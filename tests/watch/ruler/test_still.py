"""The stills of a video: nobody on them, sharp though the camera shook; one for each place."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from feedscript.watch.frames.video import open_video
from feedscript.watch.ruler.stands import PICTURES, Still, stills_from, stills_of
from feedscript.watch.ruler.still import apart_px, way_onto
from tests.watch.ruler.drawn import draw, exact
from tests.watch.scene.lens import looking

TIMES_S = [float(n) for n in range(15)]
NOWHERE = np.eye(2, 3)


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


def stills(moving: Callable[[float], np.ndarray]) -> tuple[Still, ...]:
    """Of a film that shows this at each time."""
    return stills_from(TIMES_S, [moving(time_s) for time_s in TIMES_S], moving)


def test_who_walks_about_is_not_on_the_still() -> None:
    random = np.random.default_rng(2)
    (still,) = stills(lambda time_s: with_somebody(filmed(random), 60 + round(35 * time_s)))
    # A person is 50 grey steps darker, over a twentieth of a picture; edges may be a little off.
    off = np.abs(still.grey.astype(float) - court())
    assert (off > 15).mean() < 1e-3
    assert off.mean() < 1.0
    assert (still.from_s, still.to_s) == (0.0, np.inf)


def test_a_shaking_camera_leaves_a_sharp_still() -> None:
    random = np.random.default_rng(3)
    pictures = [filmed(random, tuple(random.normal(0, 1.5, 2) * (n > 0))) for n in range(15)]
    (still,) = stills_from(TIMES_S, pictures, lambda _: None)
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
    assert apart_px(way, NOWHERE, court()) > 1.0


def test_after_a_knock_there_is_another_still_and_its_time_is_known_closely() -> None:
    random = np.random.default_rng(5)
    before, after = stills(
        lambda time_s: filmed(random, (0.0, 0.0) if time_s < 9.4 else (25.0, 14.0))
    )
    assert before.from_s == 0.0
    assert 9.1 <= before.to_s < 9.4 <= after.from_s < 9.7
    assert np.abs(before.grey.astype(float) - court()).mean() < 1.5
    moved = filmed(random, (25.0, 14.0))
    assert np.abs(after.grey.astype(float) - moved).mean() < 3.0


def test_a_camera_that_is_carried_for_a_while_stands_nowhere_meanwhile() -> None:
    random = np.random.default_rng(8)

    def seen(time_s: float) -> np.ndarray:
        if 6.2 <= time_s < 7.6:
            return random.integers(0, 255, (360, 640), np.uint8)
        return filmed(random) if time_s < 7 else np.ascontiguousarray(filmed(random)[:, ::-1] // 2)

    before, after = stills(seen)
    assert 5.9 <= before.to_s < 6.2
    assert 7.6 <= after.from_s < 7.9


def test_a_tripod_that_settles_is_not_moved_though_it_goes_far() -> None:
    """Nine pixels from one look to the next, sixty in all; the lines follow it."""
    random = np.random.default_rng(9)
    (still,) = stills(lambda time_s: filmed(random, (9.0 * time_s, -3.0 * time_s)))
    part = np.s_[60:300, 20:620]
    assert np.abs(still.grey.astype(float) - court())[part].mean() < 2.0


def test_somebody_in_front_of_the_camera_for_a_moment_is_no_knock() -> None:
    random = np.random.default_rng(6)
    covered = np.full((360, 640), 40, np.uint8)
    (still,) = stills(lambda time_s: covered if 3.5 < time_s < 4.5 else filmed(random))
    assert still.to_s == np.inf


def test_of_a_camera_that_was_moved_and_put_back_both_places_are_known() -> None:
    random = np.random.default_rng(10)
    times = [
        place.from_s
        for place in stills(
            lambda time_s: filmed(random, (30.0, 0.0) if 4.5 < time_s < 9.5 else (0.0, 0.0))
        )
    ]
    assert times == pytest.approx([0.0, 4.6, 9.6], abs=0.2)


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
    (still,), troubles = stills_of(open_video(path), progress=told.append)
    assert not troubles
    assert np.abs(still.grey.astype(float) - court()).mean() < 2.5
    assert len(told) == PICTURES
    assert told[-1] == 1.0
