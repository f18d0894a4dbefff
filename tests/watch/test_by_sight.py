"""A silent film's clock: taken where balls are seen to agree, and nowhere else."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from feedscript.watch.by_sight import agreed_s, offsets_s
from tests.watch.fit.seen_as_points import fed, seen


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
