"""Flight times by sound alone, held to the sounds of rendered balls whose flights are known."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS
from feedscript.watch.by_sound import Heard, Microphone, Unheard, behind, by_sound, by_the_camera
from feedscript.watch.frames.sound import Sound
from feedscript.watch.sync.heard import sudden
from tests.watch.fit.filmed import as_it_is, expected
from tests.watch.scene.hearing import RATE_HZ, sound
from tests.watch.scene.practices import Practice, practice

BALLS = 5


def made_of(seed: int) -> Practice:
    return practice(seed, balls=BALLS)


def heard(made: Practice, microphone: Microphone | None = None) -> list[Heard | Unheard]:
    scene = made.scene
    sounds_s = sudden([Sound(RATE_HZ, 0.0, sound(scene))])
    microphone = microphone or Microphone(scene.shooting.lens.position_m)
    return list(by_sound(expected(made, "noon"), sounds_s, scene.duration_s, microphone))


def off(made: Practice, told: list[Heard | Unheard]) -> np.ndarray:
    """Of each ball that was heard: how far flight time (s) and speed (m/s) are off, and in sd."""
    rows = []
    for flight, one in zip(made.scene.flights, told, strict=True):
        if isinstance(one, Heard):
            time_s = one.flight_s.value - (flight.bounces()[0].at_s - flight.launch.at_s)
            speed = one.speed_mps.value - flight.launch.speed_mps
            rows.append((time_s, time_s / one.flight_s.sd, speed, speed / one.speed_mps.sd))
    return np.array(rows).reshape(-1, 4)


@pytest.fixture(scope="module")
def made() -> Practice:
    return made_of(31)


def test_flight_times_are_heard_to_some_milliseconds(made: Practice) -> None:
    told = off(made, heard(made))
    assert len(told) >= BALLS - 2  # like sounds close together are nobody's
    assert np.abs(told[:, 0]).max() < 0.02
    assert np.abs(told[:, 1]).max() < 3.5
    assert np.abs(told[:, 3]).max() < 3.5


def test_the_microphone_of_a_film_is_where_its_camera_stands(made: Practice) -> None:
    scene = made.scene
    camera = as_it_is(scene.shooting.lens)
    sounds_s = sudden([Sound(RATE_HZ, 0.0, sound(scene))])
    told = by_the_camera(expected(made, "noon"), sounds_s, scene.duration_s, camera)
    assert told == {one.number: one for one in heard(made) if isinstance(one, Heard)}
    assert by_the_camera(expected(made, "noon"), np.empty(0), scene.duration_s, camera) == {}


def test_somewhere_behind_the_receiver_is_enough(made: Practice) -> None:
    told = heard(made, behind(End.RECEIVER, COURTS["singles"]))
    assert np.abs(off(made, told)[:, 1]).max() < 3.5
    lost = heard(made, behind(End.LAUNCHER, COURTS["singles"]))
    # The bounce's sound would have had the longer way: a tenth of a second is too much.
    assert [one for one in lost if isinstance(one, Heard)] == [] or np.abs(
        off(made, lost)[:, 1]
    ).max() > 3.5


def test_what_is_not_heard_is_said_so(made: Practice) -> None:
    scene, feeds = made.scene, expected(made, "noon")
    nothing = by_sound(feeds, np.empty(0), scene.duration_s, Microphone((0.0, 17.0, 2.0)))
    assert {one.reason for one in nothing if isinstance(one, Unheard)} == {"no-thump"}
    late = [msgspec.structs.replace(one, left_s=1e4) for one in feeds]
    outside = by_sound(late, np.empty(0), scene.duration_s, Microphone((0.0, 17.0, 2.0)))
    assert {one.reason for one in outside if isinstance(one, Unheard)} == {"outside"}


def test_a_sound_that_may_be_anybodys_is_nobodys(made: Practice) -> None:
    """A hammer on the next court, five times a second."""
    hammer = np.arange(0.0, made.scene.duration_s, 0.2)
    told = by_sound(
        expected(made, "noon"), hammer, made.scene.duration_s, Microphone((0.0, 17.0, 2.0))
    )
    assert [one for one in told if isinstance(one, Heard)] == []


@pytest.mark.long
@pytest.mark.timeout(900)
def test_what_flight_times_say_is_as_sure_as_it_is_said() -> None:
    rows = []
    for seed in range(40, 50):
        made = made_of(seed)
        rows.append(off(made, heard(made)))
    told = np.concatenate(rows)
    assert len(told) > 30
    assert (np.abs(told[:, 1]) < 1.96).mean() >= 0.88
    assert (np.abs(told[:, 3]) < 1.96).mean() >= 0.88
