"""A mirrored film is told by its balls, which fly to the other side; a film that shows none is not.

Instead of the film it is what was asked that is mirrored here: the court is alike on both sides, so
that the same pictures are then of a mirror.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import av
import msgspec
import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen, Why
from feedscript.watch.frames.upright import Turn, upright
from feedscript.watch.frames.video import Video, turned_over
from feedscript.watch.mirrored import mirrored, telling
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered
from tests.watch.fit.seen_as_points import Fed, fed, seen
from tests.watch.test_found import measured

VIDEO = Video(Path("film.mp4"), 1280, 720, 60.0, True, 20.0, 0.0, True, Turn())
COURT = COURTS["singles"]


def other_side(one: Expected) -> Expected:
    """As a mirror shows it: sides exchanged, and with them which way it turns."""
    (x, y, z), turn, spin = one.mouth_m, one.azimuth_deg, one.side_rpm
    return msgspec.structs.replace(
        one, mouth_m=(0.0 - x, y, z), azimuth_deg=0.0 - turn, side_rpm=0.0 - spin
    )


@pytest.fixture(scope="module")
def balls() -> tuple[Fed, ...]:
    """That were to land well off the middle."""
    every = fed(21, balls=6)
    tell = {one.number for one in telling([one.feed for one in every])}
    return tuple(one for one in every if one.feed.number in tell)[:3]


def shown(one: Fed, asked: Expected) -> Gathered:
    """All that the film shows while this is looked for."""
    return msgspec.structs.replace(seen(one, np.random.default_rng(4)), expected=asked)


def told(
    balls: tuple[Fed, ...], asked: list[Expected], found: int, monkeypatch: pytest.MonkeyPatch
) -> str | None:
    """What is said of the film, so many of whose balls were measured as they were asked."""
    by_number = {one.feed.number: one for one in balls}

    def gathered(
        _video: Video, _places: object, tried: list[Expected], *_: object
    ) -> Iterator[Gathered]:
        yield from (shown(by_number[one.number], one) for one in tried)

    monkeypatch.setattr("feedscript.watch.mirrored.gathered", gathered)
    looked: dict[int, Measured | NotSeen] = {
        one.number: NotSeen(number=one.number, why=Why.NOT_LIKELY) for one in asked
    }
    looked |= {one.number: measured(one.number, (1.0, 9.0)) for one in asked[:found]}
    said = mirrored(VIDEO, (), asked, looked, COURT)
    return None if said is None else f"{said.slug}: {said.message}"


def test_balls_that_fly_to_the_other_side_name_a_mirrored_film(
    balls: tuple[Fed, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = [other_side(one.feed) for one in balls]
    assert isinstance(measure(shown(balls[0], asked[0])), NotSeen)
    words = told(balls, asked, 0, monkeypatch)
    assert words is not None
    assert words.startswith("film-mirrored: 3 of 3 balls")
    assert told(balls, asked, 2, monkeypatch) is None  # most were found: it is not looked at again


def test_a_film_of_something_else_is_no_mirror(
    balls: tuple[Fed, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    later = [msgspec.structs.replace(one.feed, left_s=one.feed.left_s - 0.7) for one in balls]
    assert told(balls, later, 0, monkeypatch) is None


def test_balls_to_the_middle_tell_nothing(balls: tuple[Fed, ...]) -> None:
    middle = [msgspec.structs.replace(one.feed, azimuth_deg=0.0) for one in balls]
    assert telling(middle) == []


@pytest.mark.parametrize("crossed", [False, True])
def test_a_film_that_is_turned_over_shows_what_a_mirror_shows(crossed: bool) -> None:
    stored = np.arange(64 * 48, dtype=np.uint32).reshape(48, 64) % 251
    picture = av.VideoFrame.from_ndarray(stored.astype(np.uint8), "gray")
    turn = Turn(crossed=crossed, flip_y=crossed)
    over = turned_over(msgspec.structs.replace(VIDEO, turn=turn)).turn
    assert (upright(picture, over, "gray") == upright(picture, turn, "gray")[:, ::-1]).all()
