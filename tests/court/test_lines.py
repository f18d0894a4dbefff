"""The courts and the net against the ITF Rules of Tennis (Rule 1 and the appendices).

The rules print feet with metres rounded to the centimetre, so metric comparisons allow 1 cm.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.court.net import Net

SINGLES, DOUBLES = COURTS["singles"], COURTS["doubles"]


@pytest.mark.parametrize(
    ("what", "ours", "printed"),
    [
        ("length", 2 * SINGLES.half_length_m, 23.77),
        ("singles width", 2 * SINGLES.half_width_m, 8.23),
        ("doubles width", 2 * DOUBLES.half_width_m, 10.97),
        ("net to service line", SINGLES.service_line_m, 6.40),
        ("net at the centre", SINGLES.net.centre_m, 0.914),
        ("net at the stick", SINGLES.net.support_m, 1.07),
        ("middle to singles stick", SINGLES.net.support_x_m, 5.03),
        ("middle to doubles post", DOUBLES.net.support_x_m, 6.40),
        ("run-off behind, club guide", SINGLES.run_off_back_m, 5.48),
        ("run-off beside, club guide", SINGLES.run_off_side_m, 3.05),
        ("centre mark", SINGLES.centre_mark_m, 0.10),
    ],
)
def test_the_full_court_is_the_one_of_rule_1(what: str, ours: float, printed: float) -> None:
    assert ours == pytest.approx(printed, abs=0.01), what


@pytest.mark.parametrize(("court", "printed_m"), [(SINGLES, 14.46), (DOUBLES, 16.18)])
def test_set_out_diagonals_of_a_half_court(court, printed_m) -> None:
    """ITF Rules of Tennis, Appendix IX: the diagonals used to set out a court."""
    diagonal = math.hypot(court.half_length_m, 2 * court.half_width_m)
    assert diagonal == pytest.approx(printed_m, abs=0.01)


@pytest.mark.parametrize(
    ("name", "length_m", "width_m", "net_m"),
    [
        ("red", (10.97, 12.80), (4.27, 6.10), (0.800, 0.838)),
        ("orange", (17.68, 18.29), (6.10, 8.23), (0.800, 0.914)),
    ],
)
def test_stage_courts_lie_in_the_ranges_of_the_rules(name, length_m, width_m, net_m) -> None:
    """ITF Rules of Tennis, appendix on 10-and-under tennis; bounds are rounded to 1 cm there."""
    court, slack = COURTS[name], 0.005
    assert length_m[0] - slack <= 2 * court.half_length_m <= length_m[1] + slack
    assert width_m[0] - slack <= 2 * court.half_width_m <= width_m[1] + slack
    assert net_m[0] - 0.0005 <= court.net.centre_m <= net_m[1] + 0.0005


def test_green_is_played_on_the_full_singles_court() -> None:
    green = COURTS["green"]
    assert (green.half_length_m, green.half_width_m) == (
        SINGLES.half_length_m,
        SINGLES.half_width_m,
    )


def test_the_net_sags_in_a_straight_line() -> None:
    """The published straight-line model h = 0.914 + 0.156 |x| / x_support, figures by hand.

    At the singles sideline 1.0416 m with sticks, 1.0143 m on a doubles net without them. The rules
    round 3.5 ft to 1.07 m; 1 mm covers that.
    """
    sideline = SINGLES.half_width_m
    assert SINGLES.net.height_m(sideline) == pytest.approx(1.0416, abs=0.003)
    assert DOUBLES.net.height_m(-sideline) == pytest.approx(1.0143, abs=0.003)
    assert SINGLES.net.height_m(0) == pytest.approx(0.9144)


def test_past_the_post_the_net_keeps_its_full_height() -> None:
    assert DOUBLES.net.height_m(40.0) == DOUBLES.net.support_m


def test_many_heights_agree_with_one() -> None:
    net = Net(0.9, 1.1, 5.0)
    x_m = np.linspace(-8, 8, 33).reshape(3, 11)
    expected = [[net.height_m(x) for x in row] for row in x_m]
    np.testing.assert_allclose(net.heights_m(x_m), expected)
