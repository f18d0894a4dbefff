"""The renderer's lens against a library's, and undone."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tests.watch.scene.lens import PLACES, stood


@pytest.mark.parametrize("place", PLACES)
def test_places_stand_where_a_library_projects_them(place: str) -> None:
    random = np.random.default_rng(5)
    lens = stood(place, (1280, 720), random)
    assert lens.k1 != 0
    assert lens.p1 != 0
    places = random.uniform((-5, -11, 0), (5, 11, 3), (200, 3))
    ours, far = lens.project(places)
    turn = np.array(lens.rotation)
    move = -cv2.Rodrigues(turn)[0] @ np.array(lens.position_m)
    inner = np.array(
        [[lens.focal_px, 0, lens.centre_px[0]], [0, lens.focal_px, lens.centre_px[1]], [0, 0, 1]]
    )
    bends = np.array([lens.k1, lens.k2, lens.p1, lens.p2])
    theirs, _ = cv2.projectPoints(places, turn, move, inner, bends)
    ahead = far > 1.0
    assert ahead.sum() > 100
    np.testing.assert_allclose(ours[ahead], theirs[ahead, 0], atol=1e-6)


def test_a_pixels_ray_leads_back_to_it() -> None:
    lens = stood("corner", (1920, 1080), np.random.default_rng(8))
    pixels = np.stack(np.meshgrid(np.arange(0, 1920, 60.0), np.arange(0, 1080, 60.0)), axis=-1)
    rays = lens.rays(pixels)
    np.testing.assert_allclose(lens.to_pixels(rays[..., 0], rays[..., 1]), pixels, atol=1e-4)
