"""The clock of a film that no sounds tell: where balls are seen to agree, and nowhere else."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.watch.by_sight import agreed_s, clock_by_sight, laid_beside, offsets_s
from feedscript.watch.look import Laid
from feedscript.watch.mirrored import telling
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered
from feedscript.watch.sync.align import Clock
from feedscript.watch.sync.pages import NOT_TOGETHER
from tests.watch.fit.seen_as_points import Fed, fed, seen
from tests.watch.test_asked import CAMERA
from tests.watch.test_mirrored import VIDEO, other_side
from tests.watch.test_unfinished import lesson


def test_the_moment_on_which_balls_agree_is_taken_with_its_spread() -> None:
    found = agreed_s([[0.30, -0.4], [0.31], [0.29, 0.55], []])
    assert found is not None
    off_s, sd_s, count = found
    assert off_s == pytest.approx(0.30)
    assert count == 3
    assert sd_s == pytest.approx(np.std([0.29, 0.30, 0.31]) / np.sqrt(3))


@pytest.mark.parametrize(
    "offs",
    [
        [],
        [[], [], []],
        [[0.3], [0.3], [], []],  # two of four
        [[0.3], [0.0], [-0.3]],  # each another
        [[0.3, -0.2], [0.3, -0.2], [0.3, -0.2], [0.3]],  # as many on another
    ],
)
def test_where_too_few_agree_or_on_two_moments_none_is_taken(offs: list[list[float]]) -> None:
    assert agreed_s(offs) is None


@pytest.mark.long
def test_a_ball_that_left_long_after_it_was_said_is_found_by_sight() -> None:
    (one,) = fed(21, balls=1)
    said = msgspec.structs.replace(one.feed, left_s=one.feed.left_s - 0.41)
    points = seen(one, np.random.default_rng(4))
    offs = list(offsets_s(msgspec.structs.replace(points, expected=said)))
    true_s = one.ball.flight.launch.at_s - said.left_s
    assert offs
    assert np.abs(np.array(offs) - true_s).max() < 0.03


@pytest.fixture(scope="module")
def aside() -> tuple[Fed, ...]:
    """Three balls of a silent film that were to land well off the middle."""
    every = fed(21, balls=6)
    tell = {one.number for one in telling([one.feed for one in every])}
    return tuple(one for one in every if one.feed.number in tell)[:3]


def test_a_film_whose_sounds_do_not_tell_is_laid_beside_by_sight_where_somebody_says_about_when(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Few balls, or a wind that drowns them."""
    nothing = NOT_TOGETHER.report("too few sounds", help="say where")
    clock = Clock(0.0, 1.2, 0.02, 0.0, 0.0, 3, 3, by="sight")
    monkeypatch.setattr("feedscript.watch.by_sight.laid_by_sound", lambda *_: nothing)
    monkeypatch.setattr("feedscript.watch.by_sight.clock_by_sight", lambda *_: clock)

    def laid(said: tuple[float, float] | None) -> Laid | Diagnostic:
        assert VIDEO.has_sound
        return laid_beside(VIDEO, (), lesson(), CAMERA, COURTS["singles"], said)

    assert laid(None) == nothing
    told = laid((0.0, 1.0))
    assert isinstance(told, Laid)
    assert told.clock == clock


def clock_told(
    aside: tuple[Fed, ...], asked: list[Expected], monkeypatch: pytest.MonkeyPatch
) -> Clock | Diagnostic:
    """What is made of the film's time, where these are the balls that were asked for."""
    by_number = {one.feed.number: one for one in aside}

    def gathered(
        _video: object, _places: object, tried: list[Expected], *_: object
    ) -> Iterator[Gathered]:
        for one in tried:
            points = seen(by_number[one.number], np.random.default_rng(4))
            yield msgspec.structs.replace(points, expected=one)

    monkeypatch.setattr("feedscript.watch.by_sight.expected_of", lambda *_: tuple(asked))
    monkeypatch.setattr("feedscript.watch.by_sight.gathered", gathered)
    return clock_by_sight(VIDEO, (), lesson(), COURTS["singles"], (0.0, asked[0].left_s))


@pytest.mark.long
def test_a_silent_film_whose_balls_fly_to_the_other_side_is_named_as_mirrored(
    aside: tuple[Fed, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    late = [msgspec.structs.replace(one.feed, left_s=one.feed.left_s - 0.3) for one in aside]
    clock = clock_told(aside, late, monkeypatch)
    assert isinstance(clock, Clock)
    assert (clock.by, clock.heard) == ("sight", 3)
    told = clock_told(aside, [other_side(one) for one in late], monkeypatch)
    assert isinstance(told, Diagnostic)
    assert (told.slug, told.message[:10]) == ("film-mirrored", "3 of 3 bal")


@pytest.mark.long
def test_a_silent_film_of_other_balls_is_no_mirror(
    aside: tuple[Fed, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two of them leave as asked, on the other side; that is no agreement."""
    some = [other_side(one.feed) for one in aside[:2]] + [aside[2].feed]
    told = clock_told(aside, some, monkeypatch)
    assert isinstance(told, Diagnostic)
    assert told.slug != "film-mirrored"
