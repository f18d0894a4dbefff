"""The picture of a launcher's reach."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from itertools import product
from math import pi

import numpy as np
import pytest

from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import land
from feedscript.review.drawing.axes import Axes, ticks
from feedscript.review.drawing.launcher.envelope_view import carry_lines, envelope_picture
from feedscript.review.drawing.svg import write
from tests.launcher.examples import PROFILES, garage, profile_at, shipped_profiles


@pytest.mark.parametrize("path", shipped_profiles(), ids=lambda path: path.stem)
def test_every_kind_of_launcher_is_drawn(path) -> None:
    profile = profile_at(path)
    words = [
        element.text
        for element in ET.fromstring(write(envelope_picture(profile))).iter()
        if element.tag.endswith("text")
    ]
    assert profile.name in words
    assert "speed, elevation and carry" in words
    assert {"12 m", "18 m"} <= set(words)
    assert {"from the side", "from behind"} & set(words)


def test_a_launcher_in_steps_has_a_dot_for_each_of_its_balls() -> None:
    """Five speeds alike for flat balls; with spin as far apart as its limits allow."""
    profile = profile_at(PROFILES / "five-steps.toml")
    kept = [
        (upper, lower)
        for upper, lower in product(profile.drive.steps, repeat=2)
        if -2 <= (upper - lower) / 500 <= 3 and 0.92 * pi * 0.2 * (upper + lower) / 120 >= 11.5
    ]
    dots = [
        element
        for element in ET.fromstring(write(envelope_picture(profile))).iter()
        if element.tag.endswith("circle") and element.attrib["r"] == "4"
    ]
    assert len(dots) == len(kept) + 5  # without side spin only the flat ones are in both panels


def test_a_ball_thrown_from_a_carry_line_lands_that_far_away() -> None:
    """Each drawn point flown again; the line reads the speed off a grid, so to 5 cm."""
    for carry, points in carry_lines(garage()):
        speed, elevation = np.array(points).T
        flights = land(Launches.of(speed, elevation, z_m=garage().mouth_height_m))
        np.testing.assert_allclose(flights.landing_y_m, carry, atol=0.05)


@pytest.mark.parametrize(
    ("least", "most", "figures"),
    [
        (0, 35, [0, 10, 20, 30]),
        (-10, 50, [-10, 0, 10, 20, 30, 40, 50]),
        (-1120, 1120, [-1000, -500, 0, 500, 1000]),
    ],
)
def test_axes_bear_round_figures(least, most, figures) -> None:
    assert ticks(least, most) == figures


def test_axes_put_the_most_at_the_top() -> None:
    axes = Axes(10, 20, 100, 50, 0, 10, 0, 5)
    assert axes.at(0, 0) == (10, 70)
    assert axes.at(10, 5) == (110, 20)
