"""A camera that moves shows what a camera that stands so would show."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.watch.scene.handling import Handling, Sight
from tests.watch.scene.lens import stood
from tests.watch.scene.practices import feeds
from tests.watch.scene.recipe import Look, Scene, Shooting
from tests.watch.scene.render import render

SIZE = (480, 270)
PLAIN = Look(grain=2.0)


def filmed(duration_s: float = 0.5, **shooting: object) -> Scene:
    lens = stood("corner", SIZE, np.random.default_rng(6))
    shots = Shooting(lens=lens, noise=0.0, **shooting)
    return Scene(shooting=shots, flights=(), duration_s=duration_s, look=PLAIN, seed=3)


@pytest.mark.parametrize(
    "moves",
    [
        {"shake_px": 3.0},
        {"drift_px_per_min": (400.0, -300.0)},
        {"knock_s": 0.1, "knock_px": (9.0, -6.0, 5.0)},
    ],
    ids=["shake", "drift", "knock"],
)
def test_a_turned_frame_is_the_picture_of_a_camera_turned_so(moves: dict[str, object]) -> None:
    film = render(filmed(**moves))
    frame = list(film.frames())[-1].astype(float)
    turn = Rotation.from_rotvec(film.truth.turns[-1]) * Rotation.from_rotvec(
        film.scene.shooting.lens.rotation
    )
    lens = msgspec.structs.replace(
        film.scene.shooting.lens, rotation=tuple(turn.as_rotvec().tolist())
    )
    stands = msgspec.structs.replace(filmed(), shooting=Shooting(lens=lens, noise=0.0))
    expected = next(render(stands).frames()).astype(float)
    unmoved = next(render(filmed()).frames()).astype(float)
    assert np.abs(frame - expected).mean() < 0.35 * np.abs(unmoved - expected).mean()
    assert np.quantile(np.abs(frame - expected), 0.98) < 12
    # Whole lines lie on each other: the best further shift is none.
    shifts = {
        (down, across): np.abs(np.roll(frame, (down, across), (0, 1)) - expected)[9:-9, 9:-9].mean()
        for down in (-1, 0, 1)
        for across in (-1, 0, 1)
    }
    assert min(shifts, key=shifts.__getitem__) == (0, 0)


def test_a_knock_moves_the_picture_by_as_much_as_was_asked() -> None:
    shooting = filmed(knock_s=0.1, knock_px=(9.0, -6.0, 0.0)).shooting
    sight = Sight(shooting, 1)
    ahead = np.array(shooting.lens.position_m) + 10 * shooting.lens.turn()[2]
    at, _ = sight.project(np.array([ahead, ahead]), np.array([0.0, 3.0]))
    assert at[1] - at[0] == pytest.approx((9.0, -6.0), abs=0.05)


def test_a_hand_shakes_by_as_much_as_was_asked() -> None:
    handling = Handling(filmed(shake_px=2.0).shooting, 1)
    moved = handling.pixels(np.arange(0, 60, 0.01))
    assert moved[:, :2].std(0) == pytest.approx([2.0, 2.0], rel=0.15)
    frames = handling.pixels(np.arange(0, 60, 1 / 60))
    assert np.abs(np.diff(frames, axis=0)).max() < 2.0  # it trembles, it does not jump


def test_rows_of_a_rolling_shutter_show_the_ball_later() -> None:
    _, (flight,) = feeds(1, np.random.default_rng(1))
    still = msgspec.structs.replace(filmed(1.8), flights=(flight,))
    rolled = msgspec.structs.replace(
        still, shooting=msgspec.structs.replace(still.shooting, row_time_s=6e-5)
    )
    track = render(rolled).truth.balls[0].track
    lens, times = rolled.shooting.lens, render(rolled).truth.times_s[track.frame]
    late = times + rolled.shooting.exposure_s / 2 + 6e-5 * track.middle_px[:, 1]
    expected, _ = lens.project(flight.at(late))
    np.testing.assert_allclose(track.middle_px, expected, atol=0.01)
    straight = render(still).truth.balls[0].track
    common = np.isin(track.frame, straight.frame)
    assert np.abs(track.middle_px[common][:40] - straight.middle_px[:40]).max() > 0.3
