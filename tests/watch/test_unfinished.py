"""What is kept of a looking-over that was stopped."""

from __future__ import annotations

import stat
from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedscript.plan.model import Result
from feedscript.watch.asked import AskedBall, AskedLesson
from feedscript.watch.camera.camera import Camera, as_covariance
from feedscript.watch.fit.measured import NotSeen, Value, Why
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.ruler.find import Ruler
from feedscript.watch.ruler.stands import Still
from feedscript.watch.shots.seen import NoShot, Shot, WhyNot
from feedscript.watch.unfinished import Done, Unfinished, as_line, balls_in_file, done_of, key_of
from tests.watch.lesson_filmed import planned
from tests.watch.test_asked import CAMERA, CLOCK
from tests.watch.test_found import measured

#: As a followed camera is: with figures that no short text holds.
FOLLOWED = msgspec.structs.replace(
    CAMERA,
    focal_px=np.pi * 300,
    covariance=as_covariance(np.random.default_rng(1).normal(size=(13, 13))),
)


SAID = msgspec.json.encode(CLOCK)


def balls() -> list[Done]:
    return [
        done_of(FOLLOWED, measured(4, (1.0 / 3.0, 8.0))),
        done_of(CAMERA, NotSeen(number=9, why=Why.NOTHING_SEEN)),
    ]


def kept(path: Path) -> Unfinished:
    file = Unfinished(path, "key")
    for one in balls():
        file.add(one)
    return file


def test_every_ball_is_read_back_to_the_last_bit(tmp_path: Path) -> None:
    path = kept(tmp_path / "a.unfinished").path
    again = Unfinished(path, "key")
    assert [as_line(one) for one in again.done] == [as_line(one) for one in balls()]
    assert again.done[0].camera == FOLLOWED
    assert again.done[1].seen == NotSeen(number=9, why=Why.NOTHING_SEEN)
    assert balls_in_file(path) == 2
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


SHOTS = (
    Shot(
        number=4,
        struck_s=np.pi,
        struck_m=(0.1, 11.0, 1.0),
        speed_mps=Value(20.0 / 3.0, 0.3),
        odds={Result.IN: 2.0 / 3.0, Result.LONG: 1.0 / 3.0},
        landing_m=(1.0, -10.0 / 3.0),
        covariance_m2=((0.1, 0.01), (0.01, 0.2)),
        pictures=40,
    ),
    NoShot(number=9, why=WhyNot.LET_GO),
)


def test_shots_are_kept_beside_the_balls_and_counted_for_none(tmp_path: Path) -> None:
    file = kept(tmp_path / "a.unfinished")
    for one in SHOTS:
        file.add_shot(one)
    again = Unfinished(file.path, "key")
    assert again.shots == {one.number: one for one in SHOTS}
    assert [one.number for one in again.done] == [4, 9]
    assert balls_in_file(file.path) == 2


def test_a_ball_whose_line_was_cut_off_is_looked_for_again(tmp_path: Path) -> None:
    path = kept(tmp_path / "a.unfinished").path
    path.write_bytes(path.read_bytes()[:-7])
    again = Unfinished(path, "key")
    assert [one.number for one in again.done] == [4]
    again.add(balls()[1])
    assert [one.number for one in Unfinished(path, "key").done] == [4, 9]


def test_what_is_of_another_film_or_no_such_file_begins_anew(tmp_path: Path) -> None:
    path = kept(tmp_path / "a.unfinished").path
    assert Unfinished(path, "other").done == []
    path.write_bytes(b"\xff\x00 nothing of ours\n\n")
    assert Unfinished(path, "key").done == []
    assert Unfinished(tmp_path / "none", "key").done == []


def lesson() -> AskedLesson:
    plan, profile = planned()
    ball = AskedBall(number=1, left_utc_s=5.0, feed=plan.feeds[0])
    return AskedLesson(number=1, plan=plan, profiles=(profile,), balls=(ball,))


def seen_by(camera: Camera) -> tuple[Standing, ...]:
    return (Standing(Still(np.zeros((4, 4), np.uint8)), Ruler(camera, False, 0.02, 0.9)),)


@pytest.fixture
def film(tmp_path: Path) -> Path:
    path = tmp_path / "film.mp4"
    path.write_bytes(np.random.default_rng(2).bytes(3_000_000))
    return path


def test_the_key_is_another_one_for_whatever_changes_what_is_measured(film: Path) -> None:
    key = key_of(film, lesson(), SAID, seen_by(CAMERA))
    assert key == key_of(film, lesson(), SAID, seen_by(CAMERA))
    later = msgspec.json.encode(msgspec.structs.replace(CLOCK, of_s=CLOCK.of_s + 1e-9))
    others = msgspec.structs.replace(lesson(), balls=())
    assert key != key_of(film, lesson(), later, seen_by(CAMERA))
    assert key != key_of(film, others, SAID, seen_by(CAMERA))
    assert key != key_of(film, lesson(), SAID, seen_by(FOLLOWED))
    data = bytearray(film.read_bytes())
    data[-5] ^= 1
    film.write_bytes(data)
    assert key != key_of(film, lesson(), SAID, seen_by(CAMERA))
