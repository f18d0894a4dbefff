"""What stands still, and what differs from it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from feedscript.watch.seek.background import Box, Recent
from feedscript.watch.seek.blobs import blobs_in

WIDE, HIGH = 320, 240
WHOLE = Box(0, 0, WIDE, HIGH)
WINDOW = Box(60, 50, 260, 190)


def court() -> np.ndarray:
    """Lines on a plain ground, soft as a lens draws them."""
    picture = np.full((HIGH, WIDE), 90.0, np.float32)
    for at in range(20, WIDE, 60):
        picture[:, at : at + 3] = 210
    for at in range(25, HIGH, 50):
        picture[at : at + 3] = 210
    return cv2.GaussianBlur(picture, (0, 0), 0.8)


def taken(
    picture: np.ndarray,
    random: np.random.Generator,
    *,
    ball_px: tuple[float, float] | None = None,
    level: float = 205.0,
    off_px: tuple[float, float] = (0.0, 0.0),
    gain: float | np.ndarray = 1.0,
) -> np.ndarray:
    """A picture with noise, and a ball of 3 pixels' radius in it."""
    whole = picture.copy()
    if ball_px is not None:
        y, x = np.mgrid[:HIGH, :WIDE]
        share = np.clip(3.5 - np.hypot(x - ball_px[0], y - ball_px[1]), 0, 1)
        whole = whole * (1 - share) + level * share
    way = np.array([[1, 0, off_px[0]], [0, 1, off_px[1]]], np.float32)
    whole = cv2.warpAffine(whole, way, (WIDE, HIGH), borderMode=cv2.BORDER_REPLICATE) * gain
    return np.clip(whole + random.normal(0, 3, whole.shape) + 0.5, 0, 255).astype(np.uint8)


@pytest.fixture
def random() -> np.random.Generator:
    return np.random.default_rng(4)


def recent(random: np.random.Generator, **words: object) -> Recent:
    kept = Recent(taken(court(), random))
    for number in range(9):
        kept.take(number * 0.3, taken(court(), random, **words))
    return kept


def test_a_ball_is_found_where_it_is(random: np.random.Generator) -> None:
    still = recent(random).background(WHOLE)
    at = (131.3, 120.7)
    found = blobs_in(still.seen(taken(court(), random, ball_px=at)), WINDOW, 3.0, 2.0)
    assert len(found) == 1
    assert found.middle_px[0] == pytest.approx(at, abs=0.15)
    assert found.strength[0] > 0
    assert np.linalg.norm(found.streak_px[0]) < 1.5


def test_a_darker_one_is_told_from_a_lighter_one(random: np.random.Generator) -> None:
    still = recent(random).background(WHOLE)
    dark = taken(court(), random, ball_px=(131.0, 120.0), level=40.0)
    found = blobs_in(still.seen(dark), WINDOW, 3.0, 2.0)
    assert len(found) == 1
    assert found.strength[0] < 0


def test_nothing_is_found_where_nothing_moves(random: np.random.Generator) -> None:
    """Not in a camera that trembles either, and not in light that swings from row to row."""
    still = recent(random).background(WHOLE)
    swing = 1 + 0.1 * np.sin(np.arange(HIGH) / 25)[:, None]
    for words in ({}, {"off_px": (0.6, -0.4)}, {"gain": 0.85}, {"gain": swing}):
        seen = still.seen(taken(court(), random, **words))
        assert len(blobs_in(seen, WINDOW, 3.0, 2.0)) == 0, words


def test_a_trembling_camera_is_taken_out_of_the_balls_place(random: np.random.Generator) -> None:
    still = recent(random).background(WHOLE)
    at = (131.3, 120.7)
    seen = still.seen(taken(court(), random, ball_px=at, off_px=(0.9, -0.7)))
    assert seen.off_px == pytest.approx((0.9, -0.7), abs=0.12)
    found = blobs_in(seen, WINDOW, 3.0, 2.0)
    assert found.middle_px[0] == pytest.approx(at, abs=0.25)


def test_a_ball_that_lies_there_is_background(random: np.random.Generator) -> None:
    lies = (131.0, 120.0)
    still = recent(random, ball_px=lies).background(WHOLE)
    seen = still.seen(taken(court(), random, ball_px=lies))
    assert len(blobs_in(seen, WINDOW, 3.0, 2.0)) == 0


def test_one_who_walks_through_is_not_background(random: np.random.Generator) -> None:
    kept = Recent(taken(court(), random))
    for number in range(9):
        kept.take(number * 0.3, taken(court(), random, ball_px=(100.0 + 12 * number, 120.0)))
    still = kept.background(WHOLE)
    assert still.grey == pytest.approx(court(), abs=12)
    assert len(blobs_in(still.seen(taken(court(), random)), WINDOW, 3.0, 2.0)) == 0


def test_what_is_far_larger_than_a_ball_is_none(random: np.random.Generator) -> None:
    still = recent(random).background(WHOLE)
    person = court()
    person[80:150, 100:140] = 200
    assert len(blobs_in(still.seen(taken(person, random)), WINDOW, 3.0, 2.0)) == 0


def test_a_streak_has_its_length_and_direction(random: np.random.Generator) -> None:
    still = recent(random).background(WHOLE)
    moved = np.zeros((HIGH, WIDE), np.float32)
    for share in np.linspace(0, 1, 40):
        middle = (round((120 + 16 * share) * 8), round((110 + 8 * share) * 8))
        moment = np.zeros((HIGH, WIDE), np.uint8)
        cv2.circle(moment, middle, 24, 255, -1, cv2.LINE_AA, 3)
        moved += moment / np.float32(255 * 40)
    moved = court() * (1 - moved) + 205 * moved
    found = blobs_in(still.seen(taken(moved, random)), WINDOW, 3.0, 20.0)
    (along,) = found.streak_px
    assert np.abs(along) == pytest.approx((8, 4), abs=2.0)
    assert found.middle_px[0] == pytest.approx((128, 114), abs=0.5)
