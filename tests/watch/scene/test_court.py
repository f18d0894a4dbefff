"""The drawn court against the figures of ITF Rules of Tennis, Rule 1 and its plan of the court."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from tests.watch.scene.court import FULL, GROUNDS, INCH_M, POST_M, POST_OVER_CORD_M, Strip, built


def edges(strips: list[Strip], axis: str) -> set[float]:
    """The outermost places of painted lines, rounded to a millimetre."""
    low, high = {"x": ("west", "east"), "y": ("south", "north")}[axis]
    return {round(getattr(one, which), 3) for one in strips for which in (low, high)}


def test_lines_are_measured_to_their_outside() -> None:
    """78 by 36 ft; 27 ft between the singles lines; service lines 21 ft from the net."""
    strips = list(FULL.strips())
    long = [one for one in strips if one.north - one.south > 20]
    assert len(long) == 4
    assert {5.486, -5.486, 4.115, -4.115} <= edges(long, "x")
    assert max(edges(strips, "x")) == 5.486
    assert {11.887, -11.887} <= edges(strips, "y")
    assert max(edges(strips, "y")) == 11.887
    service = [one for one in strips if 8 < one.east - one.west < 9]
    assert sorted(max(abs(one.south), abs(one.north)) for one in service) == pytest.approx(
        [6.4008, 6.4008]
    )


def test_lines_are_as_wide_as_allowed() -> None:
    """Centre lines 2 in, baselines up to 4 in, all others 1 to 2 in; the centre mark 4 in long."""
    for one in FULL.strips():
        wide, long = sorted((one.east - one.west, one.north - one.south))
        inches = wide / INCH_M
        if abs(one.west + one.east) < 1e-9 and one.east < 0.1:
            assert one.east - one.west == pytest.approx(2 * INCH_M)
            if one.north - one.south < 1:
                assert one.north - one.south == pytest.approx(4 * INCH_M)
        elif abs(one.south) > 11 and long < 12:
            assert 1 <= inches <= 4
        else:
            assert 1 <= inches <= 2


def test_the_net_hangs_as_it_should() -> None:
    """3 ft in the middle, 3.5 ft at posts 3 ft outside, at most 6 in thick and 1 in over it."""
    assert FULL.cord_m([0.0, 6.4008, -6.4008]) == pytest.approx([0.9144, 1.0668, 1.0668])
    assert FULL.post_m == pytest.approx(5.4864 + 0.9144)
    assert POST_M <= 6 * INCH_M
    assert POST_OVER_CORD_M <= INCH_M


def test_small_courts_are_within_their_ranges() -> None:
    """Appendix on 10-and-under tennis: orange 58-60 by 20-27 ft, red 36-42 by 14-20 ft."""
    orange, red = GROUNDS["orange"], GROUNDS["red"]
    feet = [2 * each / 0.3048 for each in (orange.half_long_m, orange.half_wide_m)]
    feet += [2 * each / 0.3048 for each in (red.half_long_m, red.half_wide_m)]
    assert (np.array([58, 20, 36, 14]) <= np.round(feet, 6)).all()
    assert (np.round(feet, 6) <= [60, 27, 42, 20]).all()
    assert 0.8 <= red.cord_middle_m <= 0.838 + 1e-3


def test_a_built_court_is_a_little_off_and_always_alike() -> None:
    one, again, other = built(FULL, 3), built(FULL, 3), built(FULL, 4)
    assert one.strips() == again.strips()
    assert one.strips() != other.strips()
    for meant, is_ in zip(FULL.strips(), one.strips(), strict=True):
        off = np.subtract(msgspec.structs.astuple(meant), msgspec.structs.astuple(is_))
        assert 0 < np.abs(off).max() < 0.06
