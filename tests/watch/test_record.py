"""A film's landings as the journal keeps them."""

from __future__ import annotations

import hashlib
from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedscript import __version__
from feedscript.journal.films import films_of, keep_film, landings_seen
from feedscript.journal.store import open_journal
from feedscript.watch.by_sound import Heard
from feedscript.watch.camera.camera import PARAMETERS, looking
from feedscript.watch.fit.measured import NotSeen, Value, Why
from feedscript.watch.found import Found, Place
from feedscript.watch.record import film_of, landings_of
from tests.watch.lesson_filmed import LEFT_S, planned, write_journal
from tests.watch.test_found import CLOCK, ball_of, measured


@pytest.fixture
def found() -> Found:
    """Balls 1 and 2, by a camera whose place is known to a centimetre and nothing else amiss."""
    plan, _ = planned()
    camera = looking((0.0, 18.0, 3.0), (0.0, 0.0, 0.0), 1000.0, (1280, 720))
    variances = np.zeros((len(PARAMETERS), len(PARAMETERS)))
    variances[0, 0] = 1e-4  # across
    camera = msgspec.structs.replace(camera, covariance=tuple(map(tuple, variances.tolist())))
    balls = (
        ball_of(plan.feeds[0], measured(1, (0.5, 9.0))),
        ball_of(plan.feeds[1], NotSeen(number=2, why=Why.TWO_WAYS)),
    )
    return Found(lesson=1, launchers=("garage",), camera=camera, clock=CLOCK, balls=balls)


def test_what_a_film_told_is_read_back_from_the_journal(found: Found, tmp_path: Path) -> None:
    video = tmp_path / "lesson.mp4"
    video.write_bytes(b"not looked at here")
    path = tmp_path / "journal.sqlite"
    write_journal(path, *planned(), LEFT_S)
    journal = open_journal(path)
    keep_film(journal, 1, film_of(video, 77.0), landings_of(found))
    (film,) = films_of(journal, 1)
    assert film.sha256 == hashlib.sha256(video.read_bytes()).hexdigest()
    assert (film.utc_s, film.made_by) == (77.0, f"feedscript watch {__version__}")
    seen = landings_seen(journal, 1)
    assert seen[1].landing_m == (0.5, 9.0)
    assert seen[1].spread_m2 == (0.0025, 0.0, 0.01)
    assert (seen[1].speed_mps, seen[1].flight_s, seen[1].flight_sd_s) == (22.0, 1.25, 0.004)
    assert seen[2].landing_m is None
    assert seen[2].why == "two-ways"
    journal.close()


def test_of_a_ball_that_was_heard_and_not_seen_its_flight_is_kept(found: Found) -> None:
    plan, _ = planned()
    heard = Heard(
        number=2,
        flight_s=Value(0.98, 0.005),
        speed_mps=Value(22.5, 1.4),
        asked_flight_s=1.0,
        asked_speed_mps=22.0,
    )
    ball = ball_of(plan.feeds[1], NotSeen(number=2, why=Why.TWO_WAYS), heard)
    (row,) = landings_of(msgspec.structs.replace(found, balls=(ball,)))
    assert (row.landing_m, row.why) == (None, "two-ways")
    assert (row.flight_s, row.flight_sd_s, row.speed_mps) == (0.98, 0.005, 22.5)
    assert ball_of(plan.feeds[0], measured(1, (0.5, 9.0)), heard) == found.balls[0]


def test_a_ball_that_somebody_said_no_to_has_no_place_in_the_journal(found: Found) -> None:
    first, second = landings_of(found.with_said({1: "no"}))
    assert (first.landing_m, first.why, first.refused) == (None, "said-no", 1)
    assert second.why == "two-ways"


def test_what_all_balls_of_a_film_have_in_common_is_kept_apart(found: Found) -> None:
    """A camera that stands a centimetre farther right sees everything a centimetre farther left:
    by its place alone, on any ground that it looks at."""
    first = landings_of(found)[0]
    assert first.camera_spread_m2 == pytest.approx((1e-4, 0.0, 0.0), abs=1e-9)


def test_a_ball_takes_its_camera_from_the_place_in_which_it_stood_then(found: Found) -> None:
    """After a knock places are known a hundred times worse: a ball of the time after says so."""
    _, *rest = found.balls
    plan, _ = planned()
    late = msgspec.structs.replace(measured(1, (0.5, 9.0)), bounce_s=Value(50.0, 0.01))
    assert found.camera.covariance is not None
    worse = tuple(tuple(100 * each for each in row) for row in found.camera.covariance)
    after = msgspec.structs.replace(found.camera, covariance=worse)
    places = (
        Place(from_s=0.0, to_s=20.0, camera=found.camera),
        Place(from_s=20.0, to_s=30.0, camera=None),
        Place(from_s=30.0, to_s=None, camera=after),
    )
    balls = (found.balls[0], ball_of(plan.feeds[0], late), *rest)
    first, second, _ = landings_of(msgspec.structs.replace(found, places=places, balls=balls))
    assert first.camera_spread_m2 == pytest.approx((1e-4, 0.0, 0.0), abs=1e-9)
    assert second.camera_spread_m2 == pytest.approx((1e-2, 0.0, 0.0), abs=1e-7)


def test_a_place_that_no_court_has_is_not_kept(found: Found) -> None:
    plan, _ = planned()
    far = ball_of(plan.feeds[0], measured(1, (0.5, 80.0)))
    (row,) = landings_of(msgspec.structs.replace(found, balls=(far,)))
    assert (row.landing_m, row.why) == (None, "off-every-court")
