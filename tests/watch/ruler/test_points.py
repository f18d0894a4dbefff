"""The camera from named points, and the file they come in."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.watch.camera.camera import Camera
from feedscript.watch.ruler.find import Ruler, find_camera
from feedscript.watch.ruler.points import named_places, read_points, solve
from tests.watch.ruler.drawn import draw, painted
from tests.watch.ruler.test_find import errors_m
from tests.watch.scene.lens import Lens, stood

FULL = COURTS["singles"]
SIZE = (1280, 720)


def shown(lens: Lens, random: np.random.Generator, sd_px: float) -> dict[str, tuple[float, float]]:
    """What a person would show: every point that is in the picture, about where it is."""
    points = {}
    for name, place in named_places(FULL).items():
        px, far = lens.project(np.array([place]))
        if far[0] > 0.3 and (px[0] > 5).all() and (px[0] < (1275, 715)).all():
            across, down = px[0] + random.normal(0, sd_px, 2)
            points[name] = (float(across), float(down))
    return points


@pytest.fixture(scope="module")
def lens() -> Lens:
    return stood("behind receiver", SIZE, np.random.default_rng(3))


def camera_from(result: Camera | Diagnostic) -> Camera:
    assert isinstance(result, Camera), result
    return result


def test_points_alone_give_the_camera(lens: Lens) -> None:
    points = shown(lens, np.random.default_rng(4), 1.0)
    assert len(points) > 8
    camera = camera_from(solve(points, FULL, SIZE))
    assert errors_m(lens, camera).max() < 0.25
    assert np.linalg.norm(np.subtract(camera.position_m, lens.position_m)) < 0.6


def test_lines_make_of_rough_points_a_sharp_camera(lens: Lens) -> None:
    random = np.random.default_rng(5)
    grey = draw(lens, painted(random), random)
    start = camera_from(solve(shown(lens, random, 2.0), FULL, SIZE))
    ruler = find_camera(grey, FULL, start=start)
    assert isinstance(ruler, Ruler)
    assert ruler.by_lines
    assert errors_m(lens, ruler.camera).max() < 0.02 < errors_m(lens, start).max()


def test_where_no_line_is_seen_the_points_stand_and_say_how_surely(lens: Lens) -> None:
    """A grey picture adds nothing; what is asked decides whether points are enough."""
    start = camera_from(solve(shown(lens, np.random.default_rng(6), 1.0), FULL, SIZE))
    dark = np.full((720, 1280), 90, np.uint8)
    coarse = find_camera(dark, FULL, start=start, most_sd_m=0.5)
    assert isinstance(coarse, Ruler)
    assert not coarse.by_lines
    fine = find_camera(dark, FULL, start=start, most_sd_m=0.01)
    assert isinstance(fine, Diagnostic)
    assert fine.slug == "ground-unsure"


def test_a_point_that_is_named_wrongly_is_told(lens: Lens) -> None:
    points = shown(lens, np.random.default_rng(7), 0.5)
    across, down = points["receiver t"]
    points["receiver t"] = (across + 90.0, down)
    told = solve(points, FULL, SIZE)
    assert isinstance(told, Diagnostic)
    assert "`receiver t` lies" in told.message


@pytest.mark.parametrize("names", [[], ["receiver t"], ["middle of net", "ad net post top"]])
def test_too_few_points(lens: Lens, names: list[str]) -> None:
    points = shown(lens, np.random.default_rng(8), 0.5)
    told = solve({name: points[name] for name in names}, FULL, SIZE)
    assert isinstance(told, Diagnostic)
    assert "4 points on the ground are needed" in told.message


def test_points_on_one_line_give_no_camera() -> None:
    names = [name for name in named_places(FULL) if "receiver" in name and "service" not in name]
    row = {name: (100.0 + 90 * i, 400.0) for i, name in enumerate(names) if name != "receiver t"}
    told = solve(row, FULL, SIZE)
    assert (
        isinstance(told, Diagnostic)
        or not np.isfinite(told.uncertainty).all()
        or (np.sqrt(told.uncertainty[1, 1]) > 0.3)
    )


def test_every_court_has_its_points() -> None:
    for court in COURTS.values():
        places = named_places(court)
        assert places["receiver t"][1] == court.service_line_m
        assert places["launcher ad corner"] == tuple(-one for one in places["receiver ad corner"])


def test_a_file_of_points_is_read(tmp_path: Path) -> None:
    path = tmp_path / "points.toml"
    path.write_text('[points]\n"receiver t" = [640, 512.5]\n"middle of net" = [600, 300]\n')
    assert read_points(path, FULL) == {"receiver t": (640.0, 512.5), "middle of net": (600, 300)}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[points", "it is not TOML"),
        ("[other]\na = 1\n", "does not say points"),
        ("points = 3\n", "a table belongs there"),
        ('[points]\n"reciever t" = [1, 2]\n', "this court has no point called `reciever t`"),
        ('[points]\n"receiver t" = [1]\n', "has 1 entries"),
        ('[points]\n"receiver t" = "here"\n', "a list in square brackets belongs there"),
        ('[points]\n"receiver t" = [nan, 2]\n', "a bare number belongs there"),
        ("#" * 200_000, "it is longer than"),
    ],
)
def test_a_file_of_points_that_cannot_be_used(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "points.toml"
    path.write_text(text)
    with pytest.raises(FeedscriptError) as refused:
        read_points(path, FULL)
    assert refused.value.diagnostic.slug == "bad-points"
    assert words in refused.value.diagnostic.message
    assert refused.value.diagnostic.help


def test_no_file_of_points(tmp_path: Path) -> None:
    with pytest.raises(FeedscriptError, match="cannot be read"):
        read_points(tmp_path / "none.toml", FULL)


def test_an_end_is_what_the_names_say(lens: Lens) -> None:
    """Points tell which end is the receiver's; nothing is asked then."""
    start = camera_from(solve(shown(lens, np.random.default_rng(9), 1.0), FULL, SIZE))
    assert (start.position_m[1] > 0) is (End.RECEIVER.y_sign > 0)
