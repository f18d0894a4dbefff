"""What the truth says of hidden balls is what the picture shows."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from tests.watch.scene.court import BAND_M, FULL
from tests.watch.scene.flying import Launch, fly
from tests.watch.scene.lens import stood
from tests.watch.scene.people import Person
from tests.watch.scene.recipe import Look, Scene, Shooting
from tests.watch.scene.render import render
from tests.watch.scene.still import MESH_SHARE
from tests.watch.scene.truth import hidden_by_net

SIZE = (720, 404)
WHITE = Look(grain=0.0, sun_deg=None, ball=(255.0, 255.0, 255.0))


def rolling_behind_the_net() -> Scene:
    """Seen from the receiver's end: a ball that rolls beyond the net, then over its open ground."""
    launch = Launch(
        at_s=0.0, place_m=(-3.0, -2.0, 0.3), speed_mps=6.0, elevation_deg=0.0, azimuth_deg=90.0
    )
    lens = stood("behind receiver", SIZE)
    lens = msgspec.structs.replace(lens, focal_px=lens.focal_px * 2.6)
    shots = Shooting(lens=lens, noise=0.0, rate_hz=15.0)
    return Scene(shooting=shots, flights=(fly(launch),), duration_s=1.0, look=WHITE)


def light_of_the_ball(scene: Scene) -> list[float]:
    """In each frame, the ball's light over the light it would have with nothing before it."""
    empty = next(render(msgspec.structs.replace(scene, flights=())).frames()).astype(float)
    track = render(scene).truth.balls[0].track
    frames = list(render(scene).frames())
    return [
        ((frames[frame] - empty) / (255 - empty)).sum() / (np.pi * radius**2)
        for frame, radius in zip(track.frame, track.radius_px, strict=True)
    ]


def test_the_net_takes_its_share_of_a_balls_light() -> None:
    scene = rolling_behind_the_net()
    track = render(scene).truth.balls[0].track
    lights = np.array(light_of_the_ball(scene))
    assert track.seen[3:10] == pytest.approx(1 - MESH_SHARE)
    # The ball's even light sums to its area; mesh before it takes its part.
    assert np.median(lights[3:10]) == pytest.approx(1 - MESH_SHARE, rel=0.12)


def test_band_and_mesh_hide_by_where_the_line_of_sight_crosses() -> None:
    lens = stood("behind receiver", SIZE)
    eye = np.array(lens.position_m)

    def beyond(height_m: float, x_m: float) -> np.ndarray:
        """A place two metres behind the net, seen through this place of it."""
        through = np.array([x_m, 0.0, height_m])
        return eye + (through - eye) * (eye[1] + 2.0) / eye[1]

    cord = float(FULL.cord_m(1.0))
    places = np.array(
        [
            beyond(cord - BAND_M / 2, 1.0),
            beyond(cord - 0.3, 1.0),
            beyond(cord + 0.05, 1.0),
            beyond(0.5, FULL.post_m + 0.3),
            (1.0, 2.0, 0.3),
        ]
    )
    assert hidden_by_net(FULL, lens, places) == pytest.approx([1.0, MESH_SHARE, 0, 0, 0])


def test_a_person_in_front_hides_the_ball() -> None:
    scene = rolling_behind_the_net()
    person = Person(way=((0.0, 0.1, 4.0), (1.0, 0.2, 4.0)), height_m=1.9)
    crowded = msgspec.structs.replace(scene, people=(person,))
    track = render(crowded).truth.balls[0].track
    hidden = track.frame[track.seen == 0]
    assert 0 < len(hidden) < len(track.frame)
    alone = msgspec.structs.replace(crowded, flights=())
    with_ball, without = list(render(crowded).frames()), list(render(alone).frames())
    for row, frame in enumerate(track.frame):
        shown = np.abs(with_ball[frame].astype(int) - without[frame]).sum()
        if track.seen[row] == 0 and 0 < row < len(track.frame) - 1:
            near = track.seen[row - 1 : row + 2]
            assert shown == 0 or near.max() > 0  # at the edge a part of it may show
        elif track.seen[row] > 0:
            assert shown > 0
