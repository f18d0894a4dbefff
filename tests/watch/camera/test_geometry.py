"""The camera against OpenCV's own, which shares no code with it, and against draws of cameras."""

from __future__ import annotations

import cv2
import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.watch.camera.camera import PARAMETERS, Camera, as_covariance, looking, moved
from feedscript.watch.camera.geometry import ground, project, ray, row_time_s, slopes

PLACES = {
    "behind the receiver": ((2.8, 17.5, 2.8), (0.0, 2.0, 0.6), 880.0),
    "beside": ((9.0, 13.5, 2.6), (-0.5, 4.5, 0.6), 880.0),
    "behind the launcher": ((2.5, -17.0, 3.0), (0.0, 8.0, 0.5), 1200.0),
    "corner": ((8.5, 16.0, 3.5), (-1.0, 2.0, 0.5), 900.0),
}
LENS = {"k1": -0.08, "k2": 0.02, "p1": 0.0008, "p2": -0.0005}


def camera_at(place: str) -> Camera:
    eye, at, focal_px = PLACES[place]
    return msgspec.structs.replace(looking(eye, at, focal_px, (1280, 720)), **LENS)


def drawn_by_opencv(camera: Camera, points: np.ndarray) -> np.ndarray:
    turn = cv2.Rodrigues(np.array(camera.rotation))[0]
    matrix = np.array(
        [
            [camera.focal_px, 0, camera.centre_px[0]],
            [0, camera.focal_px, camera.centre_px[1]],
            [0, 0, 1],
        ]
    )
    lens = np.array([camera.k1, camera.k2, camera.p1, camera.p2])
    away = -turn @ camera.position_m
    drawn, _ = cv2.projectPoints(points, np.array(camera.rotation), away, matrix, lens)
    return drawn.reshape(-1, 2)


def in_view(camera: Camera, rng: np.random.Generator, count: int = 200) -> np.ndarray:
    points = rng.uniform((-6, -12, 0), (6, 12, 3), (20 * count, 3))
    px = project(camera, points)
    shown = (px > 0).all(1) & (px < (camera.width_px, camera.height_px)).all(1)
    return points[shown][:count]


@pytest.mark.parametrize("place", PLACES)
def test_a_point_is_drawn_where_opencv_draws_it(place: str) -> None:
    camera = camera_at(place)
    points = in_view(camera, np.random.default_rng(1))
    assert len(points) > 100
    assert np.abs(project(camera, points) - drawn_by_opencv(camera, points)).max() < 1e-6


@settings(max_examples=60)
@given(
    turn=st.tuples(*[st.floats(-3.0, 3.0)] * 3),
    place=st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(0.5, 8)),
    k1=st.floats(-0.25, 0.25),
    seed=st.integers(0, 2**32 - 1),
)
def test_what_is_drawn_is_seen_again_along_its_ray(turn, place, k1, seed) -> None:
    """For any camera: the ray through a point's pixel passes through the point."""
    camera = Camera(
        position_m=place,
        rotation=turn,
        focal_px=900.0,
        width_px=1280,
        height_px=720,
        centre_px=(650.0, 350.0),
        k1=k1,
        k2=0.01,
        p1=0.001,
        p2=0.001,
    )
    points = in_view(camera, np.random.default_rng(seed), 50)
    eye, towards = ray(camera, project(camera, points))
    assert np.allclose(np.linalg.norm(towards, axis=-1), 1.0)
    apart = np.cross(points - eye, towards)
    assert np.abs(apart).max(initial=0.0) < 1e-6


@pytest.mark.parametrize("place", PLACES)
def test_the_ground_under_a_pixel_is_found_again(place: str) -> None:
    camera = camera_at(place)
    points = in_view(camera, np.random.default_rng(2))
    points[:, 2] = 0.033
    found = ground(camera, project(camera, points), height_m=0.033)
    assert np.nanmax(np.abs(found.points_m - points[:, :2])) < 1e-6
    assert np.isfinite(found.points_m).all()
    assert not found.covariance_m2.any()  # an exact camera, an exact pixel


def test_the_sky_has_no_ground() -> None:
    level = looking((0.0, -15.0, 2.0), (0.0, 0.0, 2.0), 900.0, (1280, 720))
    found = ground(level, np.array([[640.0, 10.0], [640.0, 359.5], [640.0, 700.0]]))
    assert np.isnan(found.points_m[:2]).all()
    assert np.isnan(found.covariance_m2[:2]).all()
    assert np.isfinite(found.points_m[2]).all()


def test_what_is_behind_the_camera_is_not_drawn() -> None:
    camera = camera_at("behind the launcher")
    assert np.isnan(project(camera, np.array([[2.5, -25.0, 1.0]]))).all()


def test_what_a_lens_would_fold_back_into_the_picture_is_not_drawn() -> None:
    camera = msgspec.structs.replace(
        looking((0.0, -15.0, 2.0), (0.0, 0.0, 1.0), 900.0, (1280, 720)), k1=-0.3
    )
    assert np.isnan(project(camera, np.array([[40.0, -1.0, 1.0]]))).all()


@pytest.mark.parametrize("place", PLACES)
def test_slopes_are_what_small_changes_make(place: str) -> None:
    camera = camera_at(place)
    points = in_view(camera, np.random.default_rng(3), 20)
    found = slopes(camera, points)
    for index in range(len(PARAMETERS)):
        step = np.zeros(len(PARAMETERS))
        step[index] = 1e-5
        more, less = (project(moved(camera, sign * step), points) for sign in (1, -1))
        measured = (more - less) / 2e-5
        assert np.allclose(found.by_camera[:, :, index], measured, rtol=1e-5, atol=1e-5)
    for axis, step in enumerate(1e-5 * np.eye(3)):
        measured = (project(camera, points + step) - project(camera, points - step)) / 2e-5
        assert np.allclose(found.by_point[:, :, axis], measured, rtol=1e-5, atol=1e-5)


@pytest.mark.parametrize("place", ["behind the receiver", "beside"])
def test_the_ground_spreads_as_cameras_drawn_from_the_covariance_do(place: str) -> None:
    """What is said of a ground point is what many cameras, drawn from the covariance, show."""
    rng = np.random.default_rng(4)
    sd = np.array([0.02] * 3 + [1e-3] * 3 + [3.0, 2e-3, 1e-3, 1e-4, 1e-4, 1.0, 1.0])
    mix = np.eye(13) + 0.2 * rng.normal(size=(13, 13))
    spread = np.diag(sd) @ mix @ mix.T @ np.diag(sd) / 2
    true = camera_at(place)
    camera = msgspec.structs.replace(true, covariance=as_covariance(spread))
    px = project(camera, np.array([[0.5, 6.0, 0.0], [-2.0, 8.0, 0.0]]))
    told = ground(camera, px, pixel_sd_px=0.5).covariance_m2
    drawn = np.array(
        [
            ground(moved(true, change), px + rng.normal(0, 0.5, px.shape)).points_m
            for change in rng.multivariate_normal(np.zeros(13), spread, 1500)
        ]
    )
    for index, one in enumerate(told):
        seen = np.cov(drawn[:, index].T)
        assert np.allclose(np.sqrt(np.diag(one)), np.sqrt(np.diag(seen)), rtol=0.08)
        assert abs(one[0, 1] - seen[0, 1]) < 0.1 * np.sqrt(seen[0, 0] * seen[1, 1])


def test_lower_rows_of_a_rolling_shutter_are_later() -> None:
    camera = msgspec.structs.replace(camera_at("beside"), row_time_s=2e-5)
    assert row_time_s(camera, np.array([[5.0, 0.0], [5.0, 700.0]])).tolist() == [0.0, 0.014]


def test_a_camera_is_kept_as_json_and_comes_back_the_same() -> None:
    camera = msgspec.structs.replace(camera_at("beside"), covariance=as_covariance(np.eye(13)))
    assert msgspec.json.decode(msgspec.json.encode(camera), type=Camera) == camera
