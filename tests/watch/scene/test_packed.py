"""Frames as JPEG cameras give them: what is packed in parts is what is packed whole."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import numpy as np
import pytest

from tests.watch.scene import packed
from tests.watch.scene.practices import practice
from tests.watch.scene.render import Film, Studio, render


@pytest.fixture(scope="module")
def film() -> Film:
    scene = practice(3, balls=1, size=(320, 184), look="clay", busy=True, noise=0.0).scene
    return render(msgspec.structs.replace(scene, duration_s=2.0))


def test_parts_are_packed_as_the_whole_is(film: Film) -> None:
    """To the last bit, marks of bounces and balls that come to lie included."""
    studio = Studio(film.scene, film.truth)
    for time_s, frame in packed.frames(film, every=7):
        assert (frame == packed.packed(studio.picture(time_s).luma)).all()


def test_each_frame_has_noise_of_its_own(film: Film) -> None:
    shooting = msgspec.structs.replace(film.scene.shooting, noise=3.0)
    noisy = render(msgspec.structs.replace(film.scene, shooting=shooting))
    some = [frame.astype(float) for _, frame in packed.frames(noisy, every=10)]
    differs = [np.std(one - two) for one, two in pairwise(some)]
    assert min(differs) > 2.0


@pytest.mark.parametrize("words", [{"look": "floodlit"}, {"shake_px": 1.0}])
def test_all_of_it_is_packed_anew_where_camera_or_light_move(words: dict[str, object]) -> None:
    film = render(practice(3, balls=1, size=(160, 90), noise=0.0, **words).scene)
    studio = Studio(film.scene, film.truth)
    for time_s, frame in packed.frames(film, every=40):
        assert (frame == packed.packed(studio.picture(time_s).luma)).all()
