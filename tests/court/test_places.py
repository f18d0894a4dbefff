"""Places in words: each row reads like a coach would say it, with the metres it must come to."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.court.landmarks import End, Region, landmarks, zones
from feedscript.court.lines import COURTS
from feedscript.court.places import Clause, Relation, resolve, zone
from feedscript.diagnostics import Diagnostic

R, L = End.RECEIVER, End.LAUNCHER
FT = 0.3048
BACK, HALF, LINE = 39 * FT, 13.5 * FT, 21 * FT


def c(offset: float, relation: str, landmark: str) -> Clause:
    return Clause(landmark, Relation(relation), offset)


@pytest.mark.parametrize(
    ("end", "clauses", "point"),
    [
        (R, [c(2, "inside", "baseline"), c(1, "inside", "ad sideline")], (HALF - 1, BACK - 2)),
        (R, [c(2, "inside", "baseline"), c(1, "inside", "deuce sideline")], (1 - HALF, BACK - 2)),
        (R, [c(1, "past", "service line"), c(0, "on", "centre line")], (0, LINE + 1)),
        (R, [c(0, "on", "T")], (0, LINE)),
        (R, [c(3, "from", "net"), c(0.5, "ad of", "centre line")], (0.5, 3)),
        (R, [c(0, "middle of", "deuce box")], (-HALF / 2, LINE / 2)),
        (R, [c(1, "in front of", "baseline"), c(0.4, "outside", "ad sideline")],
         (HALF + 0.4, BACK - 1)),
        (R, [c(0.5, "deuce of", "centre mark"), c(1, "inside", "baseline")], (-0.5, BACK - 1)),
        (R, [c(0, "on", "ad corner")], (HALF, BACK)),
        (R, [c(0, "on", "Center Service Line"), c(2, "inside", "base line")], (0, BACK - 2)),
        (L, [c(1, "behind", "centre mark")], (0, -BACK - 1)),
        (L, [c(1, "behind", "baseline"), c(2, "deuce of", "centre mark")], (2, -BACK - 1)),
        (L, [c(1, "behind", "baseline"), c(2, "ad of", "centre mark")], (-2, -BACK - 1)),
        (L, [c(0, "on", "service line"), c(0, "on", "centre line")], (0, -LINE)),
    ],
)  # fmt: skip
def test_what_a_coach_says_in_metres(end, clauses, point) -> None:
    place = resolve(COURTS["singles"], end, clauses)
    assert place.diagnostics == ()
    assert place.point_m == pytest.approx(point)


@pytest.mark.parametrize(
    ("court", "clauses", "slug", "said"),
    [
        ("singles", [c(2, "inside", "bassline")], "unknown-place", "baseline"),
        ("red", [c(1, "inside", "ad doubles sideline")], "unknown-place", "singles, doubles"),
        ("singles", [c(1, "inside", "ad alley")], "unknown-place", "middle of"),
        ("singles", [c(1, "behind", "ad sideline")], "place-direction", "inside"),
        ("singles", [c(-1, "inside", "baseline")], "place-direction", "behind"),
        ("singles", [c(2, "inside", "baseline")], "place-incomplete", "ad sideline"),
        ("singles", [c(1, "inside", "ad sideline")], "place-incomplete", "baseline"),
        ("singles", [], "place-incomplete", "add"),
        ("singles", [c(2, "inside", "baseline"), c(1, "past", "service line"),
                     c(0, "on", "centre line")], "place-twice", "keep one"),
    ],
)  # fmt: skip
def test_words_that_name_no_place_say_why(court, clauses, slug, said) -> None:
    place = resolve(COURTS[court], R, clauses)
    assert place.point_m is None
    assert place.diagnostics[0].slug == slug
    assert said in place.diagnostics[0].help


@pytest.mark.parametrize("name", list(COURTS))
def test_each_area_lies_on_its_own_end_and_side(name) -> None:
    for end, sign in ((R, 1), (L, -1)):
        for words, region in zones(COURTS[name], end).items():
            x_m, y_m = region.centre_m
            assert y_m * sign > 0, words
            if words.startswith("ad "):
                assert x_m * sign > 0, words
            if words.startswith("deuce "):
                assert x_m * sign < 0, words


def test_the_alley_is_four_and_a_half_feet_wide() -> None:
    """ITF Rules of Tennis, Rule 1: 36 ft less 27 ft, on two sides."""
    alley = zone(COURTS["doubles"], R, "deuce alley")
    assert isinstance(alley, Region)
    assert alley.x_max_m - alley.x_min_m == pytest.approx(4.5 * FT)
    assert isinstance(zone(COURTS["red"], R, "deuce alley"), Diagnostic)


@given(st.sampled_from(list(COURTS)), st.sampled_from(list(End)), st.data())
def test_any_depth_and_width_resolve_and_mirror(name, end, data) -> None:
    """Swapping ad and deuce mirrors the place and changes nothing else."""
    court = COURTS[name]
    offset = data.draw(st.floats(0, 5, allow_nan=False))
    across = c(offset, "inside", data.draw(st.sampled_from(["baseline", "service line"])))
    ad = resolve(court, end, [across, c(offset / 3, "inside", "ad sideline")]).point_m
    deuce = resolve(court, end, [across, c(offset / 3, "inside", "deuce sideline")]).point_m
    assert ad is not None
    assert deuce is not None
    assert (-ad[0], ad[1]) == pytest.approx(deuce)


@given(st.text(max_size=30))
def test_any_words_give_a_place_or_a_diagnostic(words) -> None:
    place = resolve(COURTS["singles"], R, [Clause(words)])
    assert (place.point_m is None) == bool(place.diagnostics)


def test_every_landmark_has_a_depth_or_a_width() -> None:
    for court in COURTS.values():
        for landmark in landmarks(court).values():
            assert landmark.depth_m is not None or landmark.ad_m is not None
