"""A film run through once: a camera that moves while it films does not move the landings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.video import Frames, open_video
from feedscript.watch.look import look_over
from tests.watch.fit.filmed import as_it_is, expected
from tests.watch.scene.practices import Practice, practice
from tests.watch.scene.recording import write
from tests.watch.scene.render import Film, render

SIZE = (640, 360)


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


@pytest.mark.long
def test_a_tripod_that_settles_does_not_move_the_landings(tmp_path: Path) -> None:
    path = tmp_path / "settling.mp4"
    made, film = filmed(path, 12, 3, drift_px_per_min=(90.0, 60.0))
    video, feeds = open_video(path), expected(made, "noon")
    with Frames(video) as frames:
        first = next(iter(frames)).grey
    looked, troubles = look_over(video, first, as_it_is(film.truth.lens), feeds, COURTS["singles"])
    assert not troubles
    assert max(off_m(film, looked)) < 0.12
