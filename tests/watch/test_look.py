"""A film run through once: a camera that moves while it films does not move the landings."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measured import Measured, NotSeen, Why
from feedscript.watch.frames.video import open_video
from feedscript.watch.look import look_over
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.ruler.find import Ruler
from feedscript.watch.ruler.follow import turned_along
from feedscript.watch.ruler.stands import Still, stills_of
from feedscript.watch.ruler.still import way_onto
from feedscript.watch.seek.gather import Gathered
from feedscript.watch.shots.ground import Ground
from feedscript.watch.shots.watcher import ShotWatcher
from feedscript.watch.unfinished import Unfinished, as_line, done_of
from tests.watch.fit.filmed import as_it_is, expected
from tests.watch.scene.practices import Practice, practice
from tests.watch.scene.recording import write
from tests.watch.scene.render import Film, render

SIZE = (640, 360)
#: When the first ball leaves.
GIVEN_S = 0.6


def filmed(path: Path, seed: int, balls: int, **shooting: object) -> tuple[Practice, Film]:
    """A small film of some feeds."""
    made = practice(seed, balls=balls, size=SIZE, gap_s=2.2, **shooting)
    film = render(made.scene)
    write(film, path)
    return made, film


def off_m(film: Film, looked: dict[int, Measured | NotSeen]) -> list[float]:
    """How far from where each ball landed; infinite where it was not measured."""
    return [
        float(np.hypot(*np.subtract(found.landing_m, ball.landing_m)))
        if isinstance(found := looked[number], Measured)
        else np.inf
        for number, ball in enumerate(film.truth.balls)
    ]


def standing(
    camera: Camera, grey: np.ndarray, from_s: float = 0.0, to_s: float = np.inf
) -> Standing:
    return Standing(Still(grey, from_s, to_s), Ruler(camera, False, 0.02, 0.9))


@pytest.mark.long
def test_a_tripod_that_settles_does_not_move_the_landings(tmp_path: Path) -> None:
    path = tmp_path / "settling.mp4"
    made, film = filmed(path, 12, 3, drift_px_per_min=(90.0, 60.0))
    video, feeds = open_video(path), expected(made, "noon")
    (still,), _ = stills_of(video)
    places = [standing(as_it_is(film.truth.lens), still.grey)]
    looked, troubles = look_over(video, places, feeds, COURTS["singles"])
    assert not troubles
    assert max(off_m(film, looked)) < 0.12


@pytest.mark.long
def test_after_a_knock_landings_are_measured_from_where_the_camera_stands_then(
    tmp_path: Path,
) -> None:
    """The second of three balls flies while it is knocked."""
    path = tmp_path / "knocked.mp4"
    knock_s = GIVEN_S + 2.2 + 0.6
    made, film = filmed(path, 12, 3, knock_s=knock_s, knock_px=(22.0, -9.0, 3.0))
    video, feeds = open_video(path), expected(made, "noon")
    stills, _ = stills_of(video)
    assert len(stills) == 2
    assert stills[0].to_s <= knock_s + 0.02 < stills[1].from_s < knock_s + 1.0
    before = as_it_is(film.truth.lens)
    way = way_onto(stills[0].grey, stills[1].grey)
    assert way is not None
    after = turned_along(before, way)
    places = [
        standing(camera, still.grey, still.from_s, still.to_s)
        for camera, still in zip((before, after), stills, strict=True)
    ]
    looked, _ = look_over(video, places, feeds, COURTS["singles"])
    off = off_m(film, looked)
    assert off[0] < 0.12
    assert looked[1] == NotSeen(number=1, why=Why.CAMERA_MOVED)
    assert off[2] < 0.12
    alone, _ = look_over(video, [standing(before, stills[0].grey)], feeds, COURTS["singles"])
    assert off_m(film, alone)[1] > 0.12


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("stopped_after", [1, 2, 3])
def test_shots_of_a_run_that_was_stopped_go_on_to_the_same_bytes(
    tmp_path: Path, stopped_after: int
) -> None:
    """Two balls and their shots; it is stopped after so many of them, whichever came."""
    film_path = tmp_path / "hit.mp4"
    made, film = filmed(film_path, 12, 2, hits=("in", "long"))
    video, feeds = open_video(film_path), expected(made, "noon")
    (still,), _ = stills_of(video)
    places = [standing(as_it_is(film.truth.lens), still.grey)]
    grounds = {one.number: Ground(COURTS["singles"]) for one in feeds}

    def looked(kept: Unfinished) -> list[bytes]:
        watcher = ShotWatcher(grounds, kept.shots, kept.add_shot)
        found, _ = look_over(video, places, feeds, COURTS["singles"], shots=watcher, kept=kept)
        assert kept.shots == watcher.found
        balls = [as_line(done_of(as_it_is(film.truth.lens), one)) for one in found.values()]
        return balls + [msgspec.json.encode(repr(watcher.found[number])) for number in grounds]

    whole = looked(Unfinished(tmp_path / "whole.unfinished", "a key"))
    path = tmp_path / "stopped.unfinished"
    lines = (tmp_path / "whole.unfinished").read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[: 1 + stopped_after]))
    assert looked(Unfinished(path, "a key")) == whole


@pytest.mark.long
def test_a_run_that_was_stopped_goes_on_to_the_same_bytes(tmp_path: Path) -> None:
    """With a camera that settles, so that each ball hangs on how it was followed before."""
    film_path = tmp_path / "settling.mp4"
    made, film = filmed(film_path, 12, 3, drift_px_per_min=(90.0, 60.0))
    video, feeds = open_video(film_path), expected(made, "noon")
    (still,), _ = stills_of(video)
    places = [standing(as_it_is(film.truth.lens), still.grey)]
    whole: list[bytes] = []
    look_over(
        video,
        places,
        feeds,
        COURTS["singles"],
        each=lambda one, got: whole.append(as_line(done_of(one.camera, got))),
    )
    assert len(whole) == 3
    for stopped_after in (1, 2):
        kept = Unfinished(tmp_path / f"{stopped_after}.unfinished", "a key")

        def until(one: Gathered, got: Measured | NotSeen, kept: Unfinished = kept) -> None:
            if len(kept.done) == stopped_after:  # noqa: B023
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            look_over(video, places, feeds, COURTS["singles"], each=until, kept=kept)
        read_s: list[float] = []
        again = Unfinished(kept.path, "a key")
        assert len(again.done) == stopped_after
        found: list[bytes] = []
        look_over(
            video,
            places,
            feeds,
            COURTS["singles"],
            read_s.append,
            lambda one, got: found.append(as_line(done_of(one.camera, got))),  # noqa: B023
            kept=again,
        )
        assert found == whole
        assert (read_s[0] > 0.2) == (stopped_after == 2)  # from seconds before the next ball on
