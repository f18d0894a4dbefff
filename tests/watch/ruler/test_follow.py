"""A camera that settles is followed; one that is carried away is noticed."""

from __future__ import annotations

from functools import lru_cache

import cv2
import msgspec
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from feedscript.court.lines import COURTS
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import project
from feedscript.watch.ruler.follow import Follower
from feedscript.watch.ruler.overlay import overlay
from tests.watch.ruler.drawn import draw, exact
from tests.watch.ruler.test_find import FULL, as_camera, on_the_ground
from tests.watch.scene.court import GROUNDS, INCH_M
from tests.watch.scene.lens import Lens, looking


@lru_cache(maxsize=1)
def lens() -> Lens:
    return looking((2.8, 17.5, 2.8), (0.0, 2.0, 0.6), focal_px=880, size=(1280, 720))


def nudged(turn_deg: tuple[float, float, float]) -> Lens:
    """The lens turned about its own axes."""
    turn = Rotation.from_euler("xyz", turn_deg, degrees=True) * Rotation.from_rotvec(
        lens().rotation
    )
    return msgspec.structs.replace(lens(), rotation=tuple(float(one) for one in turn.as_rotvec()))


def apart_px(camera: Camera, true: Lens) -> float:
    places, px = on_the_ground(true)
    return float(np.abs(project(camera, places) - px).max())


def test_a_tripod_that_settles_is_followed_step_by_step() -> None:
    random = np.random.default_rng(1)
    follower = Follower(as_camera(lens()), FULL)
    for step in range(1, 4):
        true = nudged((0.15 * step, -0.1 * step, 0.05 * step))
        followed = follower.at(draw(true, exact(), random))
        assert followed.lines_there
        assert apart_px(followed.camera, true) < 0.3
        assert followed.off_px == pytest.approx(2.77 * step, rel=0.1)


def test_a_camera_that_stands_still_is_left_where_it_is() -> None:
    followed = Follower(as_camera(lens()), FULL).at(draw(lens(), exact(), np.random.default_rng(2)))
    assert followed.lines_there
    assert followed.off_px < 0.1


def test_a_camera_that_was_carried_away_is_noticed_and_the_one_before_is_given() -> None:
    random = np.random.default_rng(3)
    follower = Follower(as_camera(lens()), FULL)
    before = follower.at(draw(lens(), exact(), random)).camera
    followed = follower.at(draw(nudged((4.0, 6.0, 1.0)), exact(), random))
    assert not followed.lines_there
    assert followed.camera == before


def test_a_towel_along_a_line_does_not_turn_the_camera() -> None:
    """A part of the near lines seems to lie six pixels off; the others outvote it."""
    grey = draw(lens(), exact(), np.random.default_rng(4))
    grey[480:, 250:650] = np.roll(grey[480:, 250:650], 6, axis=0)
    followed = Follower(as_camera(lens()), FULL).at(grey)
    assert followed.lines_there
    assert apart_px(followed.camera, lens()) < 0.3


def test_the_picture_for_a_yes_has_the_court_where_the_lens_draws_it() -> None:
    grey = draw(lens(), exact(), np.random.default_rng(5))
    shown = cv2.imdecode(np.frombuffer(overlay(grey, as_camera(lens()), FULL), np.uint8), 1)
    assert shown.shape == (720, 1280, 3)
    red = (shown[..., 2].astype(int) - shown[..., 1]) > 80
    for x, y in ((-4.115, 9.0), (4.115, 3.0), (0.0, 4.0), (2.0, 6.4), (-3.0, 11.885)):
        (across, down), _ = lens().project((x, y, 0.0))
        assert red[round(down) - 2 : round(down) + 3, round(across) - 2 : round(across) + 3].any()
    assert red.mean() < 0.03


def test_a_court_of_which_little_is_seen_can_be_drawn_too() -> None:
    near = as_camera(looking((0.5, 1.0, 1.6), (0.5, 6.0, 0.0), focal_px=880, size=(1280, 720)))
    grey = np.full((720, 1280), 90, np.uint8)
    for court in COURTS.values():
        assert overlay(grey, near, court).startswith(b"\x89PNG")


def test_lines_wider_than_usual_do_not_turn_a_camera_that_stands_still() -> None:
    """A baseline twice as wide lies with its middle four centimetres nearer to the net."""
    wide = msgspec.structs.replace(GROUNDS["full"], baseline_m=4 * INCH_M, narrow_m=2 * INCH_M)
    still, later = (draw(lens(), exact(wide), np.random.default_rng(seed)) for seed in (5, 6))
    followed = Follower(as_camera(lens()), FULL, still=still).at(later)
    assert followed.lines_there
    assert apart_px(followed.camera, lens()) < 0.1
