"""A camera that was moved while it filmed: measured anew where it stands then, or said why not."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from feedscript.court.landmarks import End
from feedscript.watch.ruler.anew import Standing, moves, standings
from feedscript.watch.ruler.find import Ruler
from feedscript.watch.ruler.follow import Follower
from feedscript.watch.ruler.stands import Still
from tests.watch.ruler.drawn import draw, exact
from tests.watch.ruler.test_find import FULL, as_camera
from tests.watch.ruler.test_follow import apart_px, lens, nudged
from tests.watch.scene.lens import Lens

KNOCKED = (1.5, -2.5, 0.8)


@lru_cache
def picture(turn_deg: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> np.ndarray:
    return draw(nudged(turn_deg), exact(), np.random.default_rng(7))


@lru_cache(maxsize=1)
def first() -> Standing:
    still = Still(picture(), 0.0, 754.4)
    return Standing(still, Ruler(as_camera(lens()), None, 0.02, 0.9))


def after(still: Still, monkeypatch: pytest.MonkeyPatch) -> tuple[Standing, ...]:
    """What is made of a still that follows the first one, which need not be looked at again."""
    from feedscript.watch.ruler import anew

    found = anew.find_camera

    def known(grey: np.ndarray, *words: object, **more: object) -> object:
        return first().ruler if grey is first().still.grey else found(grey, *words, **more)

    monkeypatch.setattr(anew, "find_camera", known)
    return standings((first().still, still), FULL, camera_at=End.RECEIVER)


def drawn_by(one: Standing, true: Lens) -> float:
    assert one.known is not None
    return apart_px(one.known.camera, true)


def test_a_knocked_camera_is_measured_anew_and_the_time_is_told(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    places = after(Still(picture(KNOCKED), 755.0), monkeypatch)
    assert drawn_by(places[1], nudged(KNOCKED)) < 0.5
    assert drawn_by(places[1], lens()) > 20
    (told,) = moves(places, "film.mp4")
    assert told.slug == "camera-moved"
    assert "at about 12:34" in told.message
    assert "found again" in told.message


def test_a_camera_that_was_laid_down_is_told_with_its_time_and_why(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    grass = np.random.default_rng(3).integers(60, 120, (720, 1280), np.uint8)
    places = after(Still(grass, 755.0), monkeypatch)
    assert places[1].known is None
    (told,) = moves(places, "film.mp4")
    assert "at about 12:34" in told.message
    assert "not measured" in told.message
    assert "lines are not found" in told.message


def test_a_camera_that_went_on_settling_while_nobody_looked_is_found_by_its_still() -> None:
    """Further than lines are looked for: forty pixels in a long pause."""
    gone = (0.6, -2.4, 0.3)
    alone = Follower(as_camera(lens()), FULL).at(picture(gone))
    assert not alone.lines_there
    found = Follower(as_camera(lens()), FULL, still=picture()).at(picture(gone))
    assert found.lines_there
    assert apart_px(found.camera, nudged(gone)) < 0.3
