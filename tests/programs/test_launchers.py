"""The shipped program of each kind of launcher: checked, as expected, played to its end."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.launcher.port import Outcome
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.shipped import shipped_folder
from tests.launcher.examples import profile_at, shipped_profiles

FOLDER = shipped_folder() / "launchers"
PROGRAMS = sorted(FOLDER.glob("*.feed"))


def test_each_launcher_that_no_lesson_is_for_has_a_program_of_its_own() -> None:
    """The others are those of the lessons."""
    own = {path.stem for path in PROGRAMS}
    assert own | {"garage", "turning-head"} == {path.stem for path in shipped_profiles()}


@pytest.mark.parametrize("path", PROGRAMS, ids=lambda path: path.stem)
def test_it_passes_and_every_ball_comes_down_where_it_may(path: Path) -> None:
    verdict = check_program(path)
    assert verdict.ok, verdict.diagnostics
    assert verdict.as_expected
    assert {one.slug for one in verdict.diagnostics} <= {"beyond-model"}
    assert verdict.plan is not None
    run = rehearse(verdict.plan, verdict.profiles, path.stem, seed=2)
    assert run.ending.finished, run.ending.diagnostics
    assert {ball.outcome for ball in run.balls} == {Outcome.LEFT}
    sweep = profile_at(path.with_suffix(".toml")).sweep
    scatter = {feed.name: feed.scatter.major_m for feed in verdict.plan.feeds}
    x_m, y_m, _ = verdict.plan.launchers[0].mouth_m
    for ball in run.balls:
        assert ball.landing_m is not None
        (x, y), (to_x, to_y) = ball.landing_m, ball.aim_m
        if sweep is None:
            assert math.dist(ball.landing_m, ball.aim_m) < 5 * scatter[ball.feed]
        else:
            far, asked = math.hypot(x - x_m, y - y_m), math.hypot(to_x - x_m, to_y - y_m)
            assert abs(far - asked) < 5 * scatter[ball.feed]
