"""Pictures of single balls: they show what was filmed, and stay few, small and private."""

from __future__ import annotations

import stat
from pathlib import Path

import av
import cv2
import msgspec
import numpy as np
import pytest

from feedscript.watch.clips import files
from feedscript.watch.clips.files import Written, remove_clips, write_clips
from feedscript.watch.clips.moving import SLOWER
from feedscript.watch.clips.strip import CLOSE, HIGH_PX, TILE_PX, WIDE_PX, Strip, part_of, strip_of
from feedscript.watch.clips.way import way_of
from feedscript.watch.fit.measured import NotSeen, Why
from tests.watch.clips.shown import Shown, like_the_ball, shown


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> Shown:
    return shown(tmp_path_factory.mktemp("film") / "ball.mp4")


@pytest.fixture(scope="module")
def strip(one: Shown) -> Strip:
    strip = strip_of(one.video, one.way)
    assert strip is not None
    return strip


@pytest.fixture(scope="module")
def written(one: Shown, tmp_path_factory: pytest.TempPathFactory) -> Written:
    return write_clips(tmp_path_factory.mktemp("clips") / "12", one.video, [one.way])


def test_a_way_is_where_the_ball_truly_was(one: Shown) -> None:
    way, true_m = one.way, one.fed.ball.landing_m
    assert true_m is not None
    for time_s in np.linspace(way.from_s + 0.2, way.bounce_s + 0.2, 9):
        frame_s = one.fed.truth.times_s[np.argmin(np.abs(one.fed.truth.times_s - time_s))]
        assert np.linalg.norm(way.px(np.array([frame_s]))[0] - one.true_px(frame_s)) < 2
    mark, _ = one.fed.truth.lens.project(np.array([[*true_m, 0.0]]))
    assert np.linalg.norm(mark[0] - way.landing_px) < 3
    assert way.region_px is not None
    assert np.linalg.norm(way.region_px.mean(0) - way.landing_px) < 1


def test_the_ball_is_laid_into_one_picture_from_many(one: Shown, strip: Strip) -> None:
    """Along its true way, and nowhere else; large enough to be judged."""
    part = part_of(one.way)
    assert part is not None
    flight = strip.flight
    assert flight.shape[0] <= HIGH_PX
    assert flight.shape[1] <= WIDE_PX
    times = one.fed.truth.times_s
    times = times[(times > one.way.from_s) & (times < one.way.to_s)]
    places = part.at(np.array([one.true_px(time_s) for time_s in times]))
    places = places[np.isfinite(places).all(1)]
    assert sum(like_the_ball(flight, place) for place in places) > 15
    yellow = (flight[..., 1] > 200) & (flight[..., 2] > 200) & (flight[..., 0] < 150)
    rows = np.argwhere(yellow)[:, ::-1]
    nearest = np.linalg.norm(rows[:, None] - places, axis=2).min(1)
    assert np.quantile(nearest, 0.99) < 4 * one.way.radius_px(one.way.to_s) * part.scale


def test_the_ball_is_in_each_picture_of_the_bounce(strip: Strip) -> None:
    assert strip.bounce is not None
    for tile in np.split(strip.bounce, CLOSE, axis=1):
        blue, green, red = (tile[..., each].astype(int) for each in range(3))
        assert ((green > 150) & (red > 140) & (blue < 130)).sum() > 4


def test_the_bounce_is_shown_picture_by_picture(one: Shown, strip: Strip) -> None:
    assert strip.bounce is not None
    assert strip.bounce.shape[0] == TILE_PX
    assert strip.bounce.shape[1] == CLOSE * TILE_PX == WIDE_PX  # no bar beside the flight


def test_a_ball_that_was_not_found_is_shown_along_the_way_that_was_asked(one: Shown) -> None:
    """Its true way strays from that: it is seen all the same."""
    lost = NotSeen(number=one.fed.feed.number, why=Why.TOO_FEW)
    way = way_of(one.camera, one.fed.feed, lost)
    assert way is not None
    assert not way.measured
    strip = strip_of(one.video, way)
    assert strip is not None
    yellow = (strip.flight[..., 1] > 180) & (strip.flight[..., 0] < 140)
    assert yellow.sum() > 100


def test_a_film_that_does_not_show_its_time_shows_nothing(one: Shown) -> None:
    late = msgspec.structs.replace(one.fed.feed, left_s=one.video.duration_s + 5)
    way = way_of(one.camera, late, NotSeen(number=0, why=Why.NO_PICTURES))
    assert way is not None
    assert strip_of(one.video, way) is None


def test_files_are_named_by_ball_and_their_owners_alone(written: Written, one: Shown) -> None:
    number = one.way.number
    there = sorted(written.folder.iterdir())
    assert [path.name for path in there] == [f"ball-{number}.jpg", f"ball-{number}.mp4"]
    assert written == Written(written.folder, 1, 0)
    assert {stat.S_IMODE(path.stat().st_mode) for path in there} == {0o600}
    assert stat.S_IMODE(written.folder.stat().st_mode) == 0o700
    picture = cv2.imread(str(there[0]))
    assert picture is not None


def test_a_clip_is_short_slow_and_shows_the_ball(written: Written, one: Shown) -> None:
    path = written.folder / f"ball-{one.way.number}.mp4"
    assert path.stat().st_size < 3_000_000
    part = part_of(one.way, (640, 480), most_times=1.0)
    assert part is not None
    with av.open(str(path)) as container:
        frames = [
            (each.time, each.to_ndarray(format="bgr24")) for each in container.decode(video=0)
        ]
    lasts_s = one.way.to_s - one.way.from_s
    assert frames[-1][0] == pytest.approx(SLOWER * lasts_s, abs=SLOWER * 0.1)
    seen = [
        like_the_ball(picture, part.at(one.true_px(one.way.from_s + slow_s / SLOWER)[None])[0])
        for slow_s, picture in frames[10:]
    ]
    assert np.mean(seen) > 0.8


def test_no_more_than_so_many_balls_and_bytes_are_written(
    one: Shown, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "_files_of", lambda video, way: {f"ball-{way.number}.jpg": b"x" * 9})
    ways = [msgspec.structs.replace(one.way, number=number) for number in range(5)]
    monkeypatch.setattr(files, "MOST_BALLS", 3)
    assert write_clips(tmp_path, one.video, ways) == Written(tmp_path, 3, 2)
    monkeypatch.setattr(files, "MOST_BYTES", 20)
    assert write_clips(tmp_path, one.video, ways) == Written(tmp_path, 2, 3)
    assert len(list(tmp_path.iterdir())) == 2  # those of the first time are gone


def test_only_what_was_written_here_is_removed(tmp_path: Path) -> None:
    for name in ("ball-1.jpg", "ball-12.mp4", "ball-1.txt", "ball-x.jpg", "lesson.mp4"):
        (tmp_path / name).write_bytes(b"")
    assert remove_clips(tmp_path) == 2
    assert {one.name for one in tmp_path.iterdir()} == {"ball-1.txt", "ball-x.jpg", "lesson.mp4"}
