"""Points shown one after another in the still: the court goes along with them."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import PARAMETERS, Camera, moved
from feedscript.watch.ruler.find import Ruler, turned
from feedscript.watch.ruler.points import named_places
from feedscript.watch.ruler.shown import Shown, drawn_points, from_the_other_end, shown_court
from tests.watch.fit.filmed import as_it_is
from tests.watch.ruler.drawn import draw, painted
from tests.watch.ruler.test_find import errors_m
from tests.watch.scene.lens import Lens, stood

FULL = COURTS["singles"]
SIZE = (1280, 720)
SURE = 0.05


@pytest.fixture(scope="module")
def lens() -> Lens:
    return stood("behind receiver", SIZE, np.random.default_rng(3))


@pytest.fixture(scope="module")
def grey(lens: Lens) -> np.ndarray:
    random = np.random.default_rng(5)
    return draw(lens, painted(random), random)


@pytest.fixture(scope="module")
def blank() -> np.ndarray:
    """Even ground: no line helps."""
    return np.full(SIZE[::-1], 90, np.uint8)


def astray(lens: Lens) -> Camera:
    """A court drawn a good way beside where it is."""
    change = np.zeros(len(PARAMETERS))
    change[3:6] = (0.02, -0.06, 0.01)
    return moved(as_it_is(lens), change)


def true_px(lens: Lens, name: str) -> tuple[float, float]:
    px, _ = lens.project(np.array([named_places(FULL)[name]]))
    return float(px[0, 0]), float(px[0, 1])


def camera_of(shown: Shown) -> Camera:
    assert shown.camera is not None, shown.verdict
    return shown.camera


def off_px(camera: Camera, lens: Lens, name: str) -> float:
    px = drawn_points(camera, FULL)[name]
    return np.inf if px is None else float(np.linalg.norm(np.subtract(px, true_px(lens, name))))


def test_one_point_takes_the_court_along_and_is_where_it_was_put(
    lens: Lens, blank: np.ndarray
) -> None:
    near, name = astray(lens), "receiver t"
    pins = {name: true_px(lens, name)}
    camera = camera_of(shown_court(blank, FULL, pins, near=near, most_sd_m=SURE, by_lines=False))
    assert off_px(near, lens, name) > 50
    assert off_px(camera, lens, name) < 5
    other = "receiver ad service corner"
    assert off_px(camera, lens, other) < off_px(near, lens, other) / 2


def test_four_points_alone_are_the_camera_and_say_how_surely(lens: Lens, blank: np.ndarray) -> None:
    names = ("receiver t", "receiver ad corner", "receiver deuce service corner", "launcher t")
    pins = {name: true_px(lens, name) for name in names}
    shown = shown_court(blank, FULL, pins, near=astray(lens), most_sd_m=SURE)
    assert errors_m(lens, camera_of(shown)).max() < 0.3
    assert isinstance(shown.verdict, Diagnostic)  # drawn all the same
    assert shown.verdict.slug == "ground-unsure"
    content = shown_court(blank, FULL, pins, near=astray(lens), most_sd_m=1.0)
    assert isinstance(content.verdict, Ruler)
    assert not content.verdict.by_lines


def test_lines_near_by_make_it_sharp(lens: Lens, grey: np.ndarray) -> None:
    names = ("receiver t", "receiver ad service corner", "launcher t", "ad net post top")
    pins = {name: tuple(np.add(true_px(lens, name), 2.0)) for name in names}
    shown = shown_court(grey, FULL, pins, near=astray(lens), most_sd_m=SURE)
    assert isinstance(shown.verdict, Ruler)
    assert shown.verdict.by_lines
    assert errors_m(lens, camera_of(shown)).max() < 0.02


def test_lines_that_are_not_where_a_person_shows_the_court_are_not_taken(
    lens: Lens, grey: np.ndarray
) -> None:
    """Shown 12 pixels beside the painted lines: what was shown stands."""
    names = (
        "receiver t",
        "receiver ad service corner",
        "receiver deuce service corner",
        "launcher t",
    )
    pins = {name: tuple(np.add(true_px(lens, name), (12.0, 0.0))) for name in names}
    shown = shown_court(grey, FULL, pins, near=None, most_sd_m=1.0)
    drawn = drawn_points(camera_of(shown), FULL)
    for name, px in pins.items():
        assert np.linalg.norm(np.subtract(drawn[name], px)) < 6


@pytest.mark.long
def test_without_a_point_the_court_is_looked_for_anew(lens: Lens, grey: np.ndarray) -> None:
    shown = shown_court(grey, FULL, {}, camera_at=End.RECEIVER, most_sd_m=SURE)
    assert errors_m(lens, camera_of(shown)).max() < 0.02


def test_a_point_that_cannot_be_is_named_and_the_court_stays(lens: Lens, blank: np.ndarray) -> None:
    names = ("receiver t", "receiver ad corner", "receiver deuce service corner", "launcher t")
    pins = {name: true_px(lens, name) for name in (*names, "receiver ad service corner")}
    pins["receiver ad service corner"] = (1200.0, 700.0)
    near = astray(lens)
    shown = shown_court(blank, FULL, pins, near=near, most_sd_m=SURE)
    assert isinstance(shown.verdict, Diagnostic)
    assert shown.verdict.slug == "bad-points"
    assert shown.camera is near


def test_the_ends_change_places_with_every_name(lens: Lens) -> None:
    camera = as_it_is(lens)
    pins = {"receiver t": true_px(lens, "receiver t"), "ad net post top": (3.0, 4.0)}
    other, renamed = from_the_other_end(camera, pins)
    assert renamed == {"launcher t": pins["receiver t"], "deuce net post top": (3.0, 4.0)}
    drawn = drawn_points(other, FULL)["launcher t"]
    assert drawn is not None
    assert np.linalg.norm(np.subtract(drawn, pins["receiver t"])) < 1
    assert np.allclose(turned(other).position_m, camera.position_m)
