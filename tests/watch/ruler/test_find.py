"""The camera found from a still of the court, held to the lens that the court was drawn with."""

from __future__ import annotations

from functools import lru_cache

import msgspec
import numpy as np
import pytest

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Camera, as_covariance, moved
from feedscript.watch.camera.geometry import ground
from feedscript.watch.ruler.find import Ruler, find_camera, turned
from feedscript.watch.ruler.paint import white_lines
from feedscript.watch.ruler.settle import settle
from tests.watch.ruler.drawn import Painted, draw, exact, painted
from tests.watch.scene.court import GROUNDS, built
from tests.watch.scene.lens import PLACES, Lens, looking, stood
from tests.watch.scene.practices import practice
from tests.watch.scene.render import render

FULL = COURTS["singles"]
#: The square of the Mahalanobis distance within which 95 % of two-dimensional errors lie.
WITHIN_95 = 5.991


def on_the_ground(lens: Lens, half: int = 1, scale: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Places on the receiver's half that are in the picture, and their true pixels."""
    x, y = np.meshgrid(np.linspace(-4, 4, 7) * scale, half * np.linspace(0.5, 12, 9) * scale)
    places = np.column_stack([x.ravel(), y.ravel(), 0 * x.ravel()])
    px, far = lens.project(places)
    shown = (far > 0.3) & (px > 0).all(1) & (px < (lens.width - 1, lens.height - 1)).all(1)
    return places[shown], px[shown]


def errors_m(lens: Lens, camera: Camera) -> np.ndarray:
    places, px = on_the_ground(lens)
    assert len(places) > 10
    return np.linalg.norm(ground(camera, px).points_m - places[:, :2], axis=1)


def as_camera(lens: Lens) -> Camera:
    return Camera(
        position_m=tuple(float(one) for one in lens.position_m),
        rotation=lens.rotation,
        focal_px=lens.focal_px,
        width_px=lens.width,
        height_px=lens.height,
        centre_px=tuple(float(one) for one in lens.centre_px),
    )


def end_of(lens: Lens) -> End:
    return End.RECEIVER if lens.position_m[1] > 0 else End.LAUNCHER


def found(result: Ruler | Diagnostic) -> Ruler:
    assert isinstance(result, Ruler), result
    return result


def refused(result: Ruler | Diagnostic) -> Diagnostic:
    assert isinstance(result, Diagnostic), result
    assert result.help
    return result


@lru_cache(maxsize=16)
def still(place: str, seed: int = 1) -> tuple[Lens, np.ndarray]:
    random = np.random.default_rng((seed, list(PLACES).index(place)))
    lens = stood(place, (1280, 720), random)
    return lens, draw(lens, painted(random), random)


@pytest.mark.parametrize("place", PLACES)
def test_the_camera_is_found_from_nothing_but_a_picture(place: str) -> None:
    lens, grey = still(place)
    ruler = found(find_camera(grey, FULL, camera_at=end_of(lens)))
    assert errors_m(lens, ruler.camera).max() < 0.03
    assert ruler.worst_sd_m < 0.02
    assert ruler.by_lines


@pytest.mark.long
def test_worn_lines_on_mown_grass_are_not_read_as_another_court() -> None:
    """The net's band for the far baseline: hundreds of guesses that do so come before the right."""
    scene = practice(90005, look="grass", balls=1, size=(1920, 1080), built=True).scene
    grey = next(render(scene).frames())
    ruler = found(find_camera(grey, FULL, camera_at=End.RECEIVER, most_sd_m=0.3))
    assert errors_m(scene.shooting.lens, ruler.camera).max() < 0.03


def test_a_court_without_alleys_is_not_guessed_and_found_by_points() -> None:
    """Some clubs paint singles courts alone: too many of a court's lines are missing to be sure."""
    alone = msgspec.structs.replace(
        GROUNDS["full"], half_wide_m=FULL.singles_half_width_m, singles_m=None, post_m=5.03
    )
    random = np.random.default_rng(1)
    lens = stood("behind receiver", (1280, 720), random)
    grey = draw(lens, exact(alone), random)
    assert refused(find_camera(grey, FULL, camera_at=End.RECEIVER)).slug == "no-court-seen"
    about = msgspec.structs.replace(as_camera(lens), focal_px=1.01 * lens.focal_px)
    ruler = found(find_camera(grey, FULL, camera_at=End.RECEIVER, start=about))
    assert ruler.by_lines
    assert errors_m(lens, ruler.camera).max() < 0.03


@pytest.mark.parametrize("place", PLACES)
def test_a_court_without_singles_lines_is_measured_well_or_refused(place: str) -> None:
    """From beside, what is left of it is drawn like lines of a whole court from within it."""
    random = np.random.default_rng(1)
    lens, whole = stood(place, (1280, 720), random), painted(random)
    strips = tuple(s for s in whole.strips if not 3.9 < abs(s.east + s.west) / 2 < 4.3)
    grey = draw(lens, msgspec.structs.replace(whole, strips=strips), random)
    result = find_camera(grey, FULL, camera_at=end_of(lens))
    if isinstance(result, Ruler):
        assert errors_m(lens, result.camera).max() < 5 * result.worst_sd_m
    else:
        assert refused(result).slug in ("no-court-seen", "court-unsure")


def test_four_outer_lines_alone_are_not_read_as_inner_ones() -> None:
    random = np.random.default_rng(3)
    lens, whole = stood("beside", (1280, 720), random), painted(random)
    strips = tuple(s for s in whole.strips if max(abs(s.east + s.west), abs(s.north + s.south)) > 9)
    grey = draw(lens, msgspec.structs.replace(whole, strips=strips), random)
    told = refused(find_camera(grey, FULL, camera_at=end_of(lens)))
    assert told.slug == "court-unsure"
    assert "read wrongly" in told.message


def test_a_court_with_lines_too_few_is_refused_and_found_by_points() -> None:
    """Where paint would be wide and is none: it may be another court."""
    random = np.random.default_rng(2)
    lens, whole = stood("beside", (1280, 720), random), painted(random)
    strips = tuple(s for s in whole.strips if not 3.9 < abs(s.east + s.west) / 2 < 4.3)
    grey = draw(lens, msgspec.structs.replace(whole, strips=strips), random)
    assert isinstance(find_camera(grey, FULL, camera_at=end_of(lens)), Diagnostic)
    about = msgspec.structs.replace(as_camera(lens), focal_px=1.01 * lens.focal_px)
    ruler = found(find_camera(grey, FULL, camera_at=end_of(lens), start=about))
    assert errors_m(lens, ruler.camera).max() < 0.03


def test_both_ends_look_the_same_and_which_it_is_is_asked() -> None:
    _, grey = still("behind launcher")
    assert refused(find_camera(grey, FULL)).slug == "which-end"


def test_a_court_turned_by_half_is_drawn_the_same() -> None:
    mix = np.random.default_rng(1).normal(0, 1e-3, (13, 13))
    camera = msgspec.structs.replace(
        as_camera(still("corner")[0]), covariance=as_covariance(mix @ mix.T)
    )
    half = turned(camera)
    there = np.array([[100.0, 600.0], [640.0, 500.0], [900.0, 400.0]])
    told, told_half = ground(camera, there), ground(half, there)
    assert told_half.points_m == pytest.approx(-told.points_m, abs=1e-9)
    assert told_half.covariance_m2 == pytest.approx(told.covariance_m2)
    assert told.covariance_m2.any()


def test_a_picture_without_a_court_has_none() -> None:
    random = np.random.default_rng(5)
    noise = random.normal(100, 25, (720, 1280)).clip(0, 255).astype(np.uint8)
    assert refused(find_camera(noise, FULL, camera_at=End.RECEIVER)).slug == "no-court-seen"


def test_an_even_picture_has_none() -> None:
    grey = np.full((720, 1280), 128, np.uint8)
    assert refused(find_camera(grey, FULL, camera_at=End.RECEIVER)).slug == "no-court-seen"


def test_what_is_asked_beyond_what_the_picture_tells_is_refused_with_its_figure() -> None:
    lens, grey = still("behind receiver")
    told = refused(find_camera(grey, FULL, start=as_camera(lens), most_sd_m=0.001))
    assert told.slug == "ground-unsure"
    assert "0.00 m are asked for" in told.message


def test_a_camera_that_looks_away_from_the_landings_is_refused() -> None:
    lens = looking((0.5, 4.0, 3.0), (0.0, -7.0, 0.0), focal_px=700, size=(1280, 720))
    grey = draw(lens, exact(), np.random.default_rng(10))
    told = refused(find_camera(grey, FULL, start=as_camera(lens)))
    assert told.slug == "ground-unsure"
    assert "of the receiver's half is in the picture" in told.message


@pytest.mark.parametrize("court", ["red", pytest.param("orange", marks=pytest.mark.long)])
def test_a_childrens_court_is_found_by_its_own_lines(court: str) -> None:
    random = np.random.default_rng(7)
    lens = stood("behind receiver", (1280, 720), random, GROUNDS[court])
    grey = draw(lens, exact(GROUNDS[court]), random)
    ruler = found(find_camera(grey, COURTS[court], camera_at=End.RECEIVER))
    x, y = np.meshgrid([-2.0, 0.0, 2.0], [1.0, 3.0, 5.0])
    places = np.column_stack([x.ravel(), y.ravel(), 0 * x.ravel()])
    px, _ = lens.project(places)
    assert np.abs(ground(ruler.camera, px).points_m - places[:, :2]).max() < 0.03


@pytest.mark.parametrize("other", ["red", pytest.param("orange", marks=pytest.mark.long)])
def test_lines_of_another_court_on_the_same_ground_do_not_mislead(other: str) -> None:
    random = np.random.default_rng(8)
    lens = stood("behind receiver", (1280, 720), random)
    wrong = Painted(strips=GROUNDS[other].strips(), ground=GROUNDS["full"], net=False)
    grey = draw(lens, (exact(), wrong), random)
    result = find_camera(grey, FULL, camera_at=End.RECEIVER)
    assert isinstance(result, Ruler), result
    assert errors_m(lens, result.camera).max() < 0.03


@pytest.mark.parametrize(
    ("pair", "tolerance_mm"),
    [
        (("sideline -5.49", "sideline +5.49"), 11),
        (("singles sideline -4.11", "singles sideline +4.11"), 8),
        (("service line -6.40", "service line +6.40"), 13),
        (("baseline -11.89", "baseline +11.89"), 24),
    ],
)
def test_lines_may_lie_as_far_astray_as_courts_are_built(
    pair: tuple[str, str], tolerance_mm: float
) -> None:
    """Two standard deviations of their distance: ITF Technical Booklet 2015, p. 53, table 5."""
    sds = [line.astray_sd_m for line in white_lines(FULL) if line.name in pair]
    assert len(sds) == 2
    assert 2000 * float(np.hypot(*sds)) == pytest.approx(tolerance_mm, rel=0.05)


def covered(seeds: range, court: str = "full") -> tuple[float, float]:
    """Over many cameras and painters: the share of ground points whose truth lies in the stated
    95 % region, and the worst error in metres."""
    full, of_court = court == "full", GROUNDS[court]
    lines, shares, worst = white_lines(FULL if full else COURTS[court]), [], 0.0
    scale = of_court.half_long_m / GROUNDS["full"].half_long_m
    for seed in seeds:
        random = np.random.default_rng((seed, 9))
        lens = stood(list(PLACES)[seed % 4], (1280, 720), random, of_court)
        strays = painted(random) if full else exact(built(of_court, seed))
        grey = draw(lens, strays, random)
        nudge = np.zeros(13)
        nudge[:7] = random.normal(0, (0.01, 0.01, 0.01, 1e-3, 1e-3, 1e-3, 3.0))
        settled = settle(grey, moved(as_camera(lens), nudge), lines, gates_px=(8, 4, 4))
        assert settled is not None
        places, px = on_the_ground(lens, scale=scale)
        told = ground(settled.camera, px)
        off = told.points_m - places[:, :2]
        squared = np.einsum("ni,nij,nj->n", off, np.linalg.inv(told.covariance_m2), off)
        shares.append((squared < WITHIN_95).mean())
        worst = max(worst, float(np.linalg.norm(off, axis=1).max()))
    return float(np.mean(shares)), worst


def test_the_stated_uncertainty_is_an_honest_one() -> None:
    share, worst = covered(range(8))
    assert share > 0.8
    assert worst < 0.03


@pytest.mark.parametrize("court", ["red", pytest.param("orange", marks=pytest.mark.long)])
def test_it_is_an_honest_one_on_a_childrens_court(court: str) -> None:
    """Its lines are laid by the same hands as a full court's."""
    share, worst = covered(range(8), court)
    assert share > 0.88
    assert worst < 0.03


@pytest.mark.long
@pytest.mark.timeout(1800)
def test_the_stated_uncertainty_is_an_honest_one_over_many_cameras() -> None:
    share, worst = covered(range(1000, 1160))
    assert 0.93 < share < 0.97
    assert worst < 0.05


def test_from_low_down_far_places_are_known_less_surely_and_it_says_so() -> None:
    worst_m = []
    for high_m in (1.0, 4.0):
        lens = looking((1.5, 16.0, high_m), (0.0, 4.0, 0.6), focal_px=880, size=(1280, 720))
        grey = draw(lens, exact(), np.random.default_rng(11))
        ruler = found(find_camera(grey, FULL, start=as_camera(lens)))
        assert errors_m(lens, ruler.camera).max() < 3 * ruler.worst_sd_m
        worst_m.append(ruler.worst_sd_m)
    assert worst_m[0] > 1.1 * worst_m[1]
