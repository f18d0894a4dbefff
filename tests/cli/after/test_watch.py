"""``feedscript watch`` as a person meets it: the court found in a film, or why not."""

from __future__ import annotations

import json
import stat
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import pytest
from click.testing import CliRunner, Result

from feedscript.cli.after import watch as asked
from feedscript.court.lines import COURTS
from feedscript.watch.fit.measured import Why
from feedscript.watch.ruler.points import read_points
from feedscript.watch.unfinished import Done, Unfinished, beside
from tests.watch.lesson_filmed import planned, write_journal
from tests.watch.ruler.drawn import draw, painted
from tests.watch.scene.lens import Lens, stood
from tests.watch.test_asked import CAMERA

SIZE = (1280, 720)


def watch(*words: object) -> Result:
    result = CliRunner().invoke(asked.command, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


@pytest.fixture(scope="module")
def lens() -> Lens:
    return stood("behind receiver", SIZE, np.random.default_rng(3))


@pytest.fixture(scope="module")
def film(lens: Lens, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A second of an empty court."""
    random = np.random.default_rng(5)
    return written(
        tmp_path_factory.mktemp("film") / "court.mp4", draw(lens, painted(random), random)
    )


def written(path: Path, grey: np.ndarray) -> Path:
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = *SIZE, "yuv420p"
        stream.options = {"preset": "ultrafast", "crf": "18"}
        for number in range(25):
            picture = av.VideoFrame.from_ndarray(grey, format="gray").reformat(format="yuv420p")
            picture.pts, picture.time_base = number, Fraction(1, 25)
            out.mux(stream.encode(picture))
        out.mux(stream.encode())
    return path


def test_the_court_is_found_drawn_over_the_film_and_its_points_written(
    film: Path, lens: Lens, tmp_path: Path
) -> None:
    drawn, points = tmp_path / "over.png", tmp_path / "points.toml"
    result = watch(
        film, "--camera-at", "receiver", "-o", drawn, "--points-out", points, "--format", "json"
    )
    assert result.exit_code == 0, result.output
    told = json.loads(result.output)
    assert np.linalg.norm(np.subtract(told["camera"]["position_m"], lens.position_m)) < 0.1
    assert told["files"] == [str(drawn), str(points)]
    assert told["worst_sd_m"] < 0.05
    picture = cv2.imread(str(drawn))
    assert picture is not None
    assert picture.shape == (720, 1280, 3)
    assert stat.S_IMODE(drawn.stat().st_mode) == 0o600  # people may be in it
    corner = read_points(points, COURTS["singles"])["receiver t"]
    true_px, _ = lens.project(np.array([[0.0, 6.4008, 0.0]]))
    assert np.linalg.norm(np.subtract(corner, true_px[0])) < 3


def test_a_film_of_something_else_is_refused_in_words(tmp_path: Path) -> None:
    grey = np.random.default_rng(2).integers(60, 200, (720, 1280), np.uint8)
    result = watch(written(tmp_path / "noise.mp4", cv2.GaussianBlur(grey, (0, 0), 6)))
    assert result.exit_code == 1
    assert "no-court-seen" in result.output


def test_bad_points_are_told_before_the_film_is_looked_at(
    film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feedscript.watch.ruler.stands.stills_of", None)
    points = tmp_path / "points.toml"
    points.write_text('[points]\n"receiver tee" = [640, 512]\n')
    result = watch(film, "--points", points)
    assert result.exit_code == 1
    assert "bad-points" in result.output


def test_what_is_no_film_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "film.mp4"
    text.write_text("no film")
    result = watch(text)
    assert result.exit_code == 1
    assert "video-unusable" in result.output


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("-o", "over.jpg"), ".png"),
        (("--sure", "5 m"), "--sure"),
        (("--sure", "soon"), "--sure"),
    ],
)
def test_wrong_options_are_wrong_usage(film: Path, words: tuple[str, ...], complaint: str) -> None:
    result = watch(film, *words)
    assert result.exit_code == 2
    assert complaint in result.output


def test_without_the_extra_it_says_what_to_install(
    film: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(asked, "find_spec", lambda name: None if name == "av" else object())
    result = watch(film)
    assert result.exit_code == 2
    assert "feedscript[video]" in result.output


def test_what_does_not_fit_the_lesson_is_told_before_the_film_is_looked_at(
    film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feedscript.watch.ruler.stands.stills_of", None)
    journal = tmp_path / "journal.sqlite"
    write_journal(journal, *planned(), (1.0,))
    for words, code, complaint in (
        (("--lesson", 7), 1, "there is no lesson 7"),
        (("--lesson", 1, "--court", "red"), 2, "--court singles"),
        (("--lesson", 1, "-o", "balls.txt"), 2, ".csv"),
        (("--offset", "3 s"), 2, "--lesson"),
        (("--into-journal",), 2, "--into-journal goes with --lesson"),
        (("--clips",), 2, "--lesson"),
        (("--lesson", 1, "--program", "tuesday-two"), 2, "--program"),
        (("--program", "tuesday-two", "--into-journal"), 2, "--lesson"),
        (("--program", "thursday-juniors"), 1, "no-planned-times"),
        (("--seed", 3), 2, "--program"),
    ):
        result = watch(film, *words, "--journal", journal)
        assert result.exit_code == code, result.output
        assert complaint in result.output


def test_a_silent_film_asks_at_once_where_the_first_ball_leaves(
    film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("feedscript.watch.ruler.stands.stills_of", None)
    journal = tmp_path / "journal.sqlite"
    write_journal(journal, *planned(), (1.0,))
    result = watch(film, "--lesson", 1, "--journal", journal)
    assert result.exit_code == 1
    assert "video-silent" in result.output
    assert "--offset '12.5 s'" in result.output


def test_ctrl_c_says_what_is_done_and_how_to_go_on(
    film: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def pressed(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("feedscript.watch.ruler.stands.stills_of", pressed)
    out = tmp_path / "balls.json"
    journal = tmp_path / "journal.sqlite"
    write_journal(journal, *planned(), (1.0,))
    words = (film, "--lesson", 1, "--journal", journal, "-o", out, "--offset", "1 s")
    result = watch(*words)
    assert result.exit_code == 1
    assert "stopped before a ball was kept" in result.output
    kept = Unfinished(beside(out), "key")
    kept.add(Done(number=1, camera=CAMERA, why=Why.NOTHING_SEEN))
    result = watch(*words)
    assert result.exit_code == 1
    assert f"1 ball done and kept in {out}.unfinished" in result.output
    assert "same command again" in result.output
