"""A whole hour of a group, as it is shipped: checked, and rehearsed to its end."""

from __future__ import annotations

import pytest

from feedscript.check.check_program import check_program
from feedscript.plan.model import Collect, Exercise
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.shipped import program_path

VERDICT = check_program(program_path("wednesday-six"))


def test_the_hour_of_six_holds_what_it_says() -> None:
    assert VERDICT.as_expected, VERDICT.diagnostics
    plan, hour = VERDICT.plan, VERDICT.hour
    exercises = [step for step in plan.steps if isinstance(step, Exercise)]
    assert len(exercises) == 5
    assert all(one.aim and one.watch and one.planned_s for one in exercises)
    assert sum(isinstance(step, Collect) and step.break_s is not None for step in plan.steps) == 1
    assert plan.planned_s == 3600.0
    assert hour.whole_s == pytest.approx(3600.0, rel=0.1)


def test_it_is_rehearsed_to_its_end_with_the_break_waited_out() -> None:
    plan = VERDICT.plan
    run = rehearse(plan, VERDICT.profiles, "wednesday-six")
    assert run.ending.finished, run.ending.diagnostics
    assert plan.bounds.balls[0] <= len(run.balls) <= plan.bounds.most_balls
    said = [one for one in run.said if not one.phase]
    begun_s = next(one.at_s for one in said if one.text.startswith("Break of 3 min: water"))
    over_s = next(one.at_s for one in said if one.text == "The break is over.")
    assert over_s - begun_s == pytest.approx(180.0, abs=0.1)
    titles = [one.title for one in plan.steps if isinstance(one, Exercise)]
    assert [one.text for one in said if one.text in titles] == titles
    assert {ball.player for ball in run.balls if not ball.shown} == {
        *("Alder", "Birch", "Cedar", "Elder", "Hazel", "Rowan"),
    }
