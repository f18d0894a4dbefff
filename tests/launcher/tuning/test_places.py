"""Two tapes, places on the court, each ball's own uncertainty, as a file of landings has them."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from feedscript.launcher.tuning.fit import fit
from feedscript.launcher.tuning.landings_file import LandingsReading, parse_landings
from feedscript.launcher.tuning.places import NoPlace, Place, place_of
from feedscript.launcher.tuning.shots import Shots
from tests.launcher.tuning.synthetic import AIR, profile_named, thrown, usual_settings

GARAGE = profile_named("garage")
MARKS = {"a_along_m": 6.0, "a_right_m": -4.1, "b_along_m": 6.0, "b_right_m": 4.1}

metres = st.floats(-20, 20)


@given(st.floats(1, 25), st.floats(-8, 8))
def test_two_tapes_find_the_place_that_they_were_held_to(along: float, right: float) -> None:
    assume(abs(along - 6) > 1.5)
    row = MARKS | {
        "tape_a_m": math.dist((along, right), (6.0, -4.1)),
        "tape_b_m": math.dist((along, right), (6.0, 4.1)),
        "side": 1.0 if along < 6 else -1.0,  # walking to the right, nearer places are at the right
    }
    place = place_of(row, 0.04)
    assert isinstance(place, Place)
    assert (place.along_m, place.right_m) == pytest.approx((along, right), abs=1e-6)


def test_two_tapes_say_how_surely_they_fix_a_place() -> None:
    """Against tapes that err by chance, 4,000 times."""
    random = np.random.default_rng(1)
    tapes = [math.dist((16.0, 2.0), (6.0, right)) for right in (-4.1, 4.1)]
    drawn, place = [], None
    for far_a, far_b in random.normal(tapes, 0.04, (4000, 2)):
        place = place_of(MARKS | {"tape_a_m": far_a, "tape_b_m": far_b, "side": -1.0}, 0.04)
        assert isinstance(place, Place)
        drawn.append((place.along_m, place.right_m))
    exact = place_of(MARKS | {"tape_a_m": tapes[0], "tape_b_m": tapes[1], "side": -1.0}, 0.04)
    assert isinstance(exact, Place)
    assert exact.own is not None
    assert np.cov(np.array(drawn).T) == pytest.approx(exact.own, rel=0.12, abs=1e-4)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ({"tape_a_m": 5.0, "tape_b_m": 5.0}, "meet twice"),
        ({"tape_a_m": 1.0, "tape_b_m": 1.0, "side": 1.0}, "never meet"),
        ({"tape_a_m": 9.0, "tape_b_m": 0.5, "side": 1.0}, "never meet"),
        ({"tape_a_m": 4.0, "tape_b_m": 4.2, "side": 1.0}, "one line"),
        ({"tape_a_m": 4.0, "tape_b_m": math.nan, "side": 1.0}, "tape_b_m is empty"),
        ({"tape_a_m": 5.0, "tape_b_m": 5.0, "b_right_m": -4.1}, "apart"),
    ],
)
def test_tapes_that_fix_no_place_are_refused_with_the_reason(
    row: dict[str, float], said: str
) -> None:
    found = place_of(MARKS | row, 0.04)
    assert isinstance(found, NoPlace)
    assert said in found.message
    assert found.fix


def test_where_only_one_meeting_is_before_the_launcher_no_side_is_asked() -> None:
    row = MARKS | {"tape_a_m": 14.0, "tape_b_m": 14.0}
    place = place_of(row, 0.04)
    assert isinstance(place, Place)
    assert place.along_m == pytest.approx(6 + math.sqrt(14**2 - 4.1**2))


@given(metres, metres, metres, metres, st.floats(-180, 180))
def test_places_on_the_court_are_turned_to_the_launcher(
    x: float, y: float, x0: float, y0: float, facing: float
) -> None:
    """Oracle: complex numbers, y + ix turned back by the way it faces."""
    row = {"court_x_m": x, "court_y_m": y, "launcher_x_m": x0, "launcher_y_m": y0}
    row["facing_deg"] = facing
    place = place_of(row, 0.04)
    turned = complex(y - y0, x - x0) * cmath.exp(-1j * math.radians(facing))
    assert isinstance(place, Place)
    assert complex(place.along_m, place.right_m) == pytest.approx(turned, abs=1e-9)


def reading(columns: str, row: str) -> LandingsReading:
    return parse_landings(
        f"drive_1,drive_2,tilt_deg,{columns}\n2000,2000,5,{row}\n", "mine.csv", GARAGE
    )


def test_a_file_may_hold_each_balls_own_uncertainty() -> None:
    shots = reading("along_m,right_m,sd_along_m,sd_right_m,correlation", "15,1,0.2,0.1,0.5").shots
    assert shots is not None
    assert shots.own is not None
    assert shots.own[0] == pytest.approx(np.array([[0.04, 0.01], [0.01, 0.01]]))
    plain = reading("along_m,right_m", "15,1").shots
    assert plain is not None
    assert plain.own is None


@pytest.mark.parametrize(
    ("columns", "row", "said"),
    [
        ("along_m,right_m,tape_a_m", "15,1,3", "stand in one file"),
        ("tape_a_m,tape_b_m", "5,5", "'a_along_m' is missing"),
        ("along_m,right_m,sd_along_m", "15,1,0.2", "only one of"),
        ("along_m,right_m,sd_m", "15,1,20", "not between"),
        ("court_x_m,court_y_m,launcher_x_m,launcher_y_m,facing_deg", "1,5,0,,0", "not complete"),
        (
            "tape_a_m,tape_b_m,a_along_m,a_right_m,b_along_m,b_right_m,side",
            "5,5,6,-4.1,6,4.1,east",
            "write left or right",
        ),
    ],
)
def test_what_a_file_cannot_mean_is_refused_at_its_line(columns: str, row: str, said: str) -> None:
    found = reading(columns, row)
    assert found.shots is None
    assert any(said in one.message + one.help for one in found.diagnostics)


def test_a_ball_counts_by_how_surely_it_was_measured() -> None:
    """Half were seen to a metre only: told so, they neither mislead nor look like scatter."""
    random = np.random.default_rng(8)
    shots = thrown(GARAGE, usual_settings(GARAGE)[::2], 4, random)
    unsure = np.arange(len(shots)) % 2 == 0
    seen = shots.seen.copy()
    seen[unsure, :2] += random.normal(0, 1.0, (int(unsure.sum()), 2))
    own = np.where(unsure[:, None, None], np.eye(2), np.nan)
    told = fit(GARAGE, Shots(shots.settings, seen, shots.lines, own), AIR)
    untold = fit(GARAGE, Shots(shots.settings, seen, shots.lines), AIR)
    assert told.across.least <= 1.0 <= told.across.most
    assert untold.across.scale > 2 * told.across.scale
    assert all(a.half < b.half for a, b in zip(told.factors, untold.factors, strict=True))
    for one in told.factors:
        assert abs(one.value - one.before) < 1.5 * one.half


def test_a_table_saved_with_semicolons_is_one_message_whose_mend_works() -> None:
    """As spreadsheets save where a comma is the mark of fractions."""
    commas = "drive_1,drive_2,tilt_deg,along_m,right_m\n2000,2000,6.25,15.5,0.25\n"
    found = parse_landings(commas.replace(",", ";").replace(".", ","), "table", GARAGE)
    (told,) = found.diagnostics
    assert (told.slug, told.span and told.span.line) == ("bad-landings", 1)
    assert told.message == "semicolons stand between the cells"
    mended = found.text.replace(",", ".").replace(";", ",")
    assert parse_landings(mended, "table", GARAGE).diagnostics == ()
