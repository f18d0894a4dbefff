"""Files that the renderer writes, read back."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import pytest

from tests.watch.scene.hearing import RATE_HZ, Noise, heard_s, noises, sound
from tests.watch.scene.practices import Practice, practice
from tests.watch.scene.recording import write
from tests.watch.scene.render import render


def small(**words: object) -> Practice:
    return practice(4, balls=1, size=(320, 180), gap_s=1.2, rate_hz=30.0, uneven_s=0.002, **words)


#: How often a quarter turn against the clock makes the kept rows upright.
QUARTERS = {0: 0, 90: 1, 180: 2, 270: 3}


@pytest.mark.parametrize(
    ("codec", "kind", "turned"),
    [
        ("h264", "mp4", 90),
        ("mjpeg", "mkv", 0),
        pytest.param("h264", "mp4", 0, marks=pytest.mark.long),
        pytest.param("h264", "mov", 270, marks=pytest.mark.long),
        pytest.param("h264", "mkv", 180, marks=pytest.mark.long),
        pytest.param("mjpeg", "mov", 90, marks=pytest.mark.long),
    ],
)
def test_a_file_shows_the_film_at_its_times(
    tmp_path: Path, codec: str, kind: str, turned: int
) -> None:
    film = render(small().scene)
    path = tmp_path / f"film.{kind}"
    write(film, path, codec=codec, turned_deg=turned)
    with av.open(str(path)) as container:
        read = list(container.decode(container.streams.video[0]))
    assert len(read) == len(film.truth.times_s)
    tick_s = 1e-3 if kind == "mkv" else 2e-5  # Matroska counts in milliseconds
    assert [one.time for one in read] == pytest.approx(film.truth.times_s.tolist(), abs=tick_s)
    assert {one.rotation % 360 for one in read} == {turned}
    for ours, theirs in list(zip(film.frames(), read, strict=True))[::9]:
        upright = np.rot90(theirs.to_ndarray(format="gray"), QUARTERS[turned])
        assert np.abs(upright.astype(float) - ours).mean() < 4.5  # noise that compression drops


def test_the_sound_comes_with_the_file_and_after_its_way(tmp_path: Path) -> None:
    scene = small().scene
    path = tmp_path / "film.mp4"
    write(render(scene), path, colour=False)
    with av.open(str(path)) as container:
        heard = np.concatenate([one.to_ndarray()[0] for one in container.decode(audio=0)])
    assert len(heard) / RATE_HZ == pytest.approx(scene.duration_s, abs=0.05)
    ours = sound(scene)
    clap = next(one for one in noises(scene) if one.what == "clap")
    for samples in (ours, heard):
        start = int(heard_s(scene, clap) * RATE_HZ)
        before = np.abs(samples[start - 1500 : start - 200]).max()
        assert np.abs(samples[start - 100 : start + 300]).max() > 4 * before


def test_what_is_far_away_is_heard_late() -> None:
    scene = small().scene
    x, y, z = scene.shooting.lens.position_m
    assert heard_s(scene, Noise("hit", 1.0, (x, y - 34.3, z), 1.0)) == pytest.approx(1.1)


def test_everything_that_sounds_is_heard() -> None:
    made = practice(2, balls=1, size=(320, 180), hits=("in",), gap_s=3.0)
    told = [one.what for one in noises(made.scene)]
    assert told[:4] == ["clap", "thump", "bounce", "hit"]
    assert "bounce" in told[4:]  # of the way back
