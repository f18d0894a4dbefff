"""Every shipped launcher throws one and the same program on the stand-in, in virtual time."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from feedscript.check.check_program import Options, check_program
from feedscript.launcher.port import Outcome
from feedscript.session.operator.phases import Phase
from feedscript.session.rehearsal.rehearse import rehearse
from tests.launcher.examples import profile_at, shipped_profiles

#: No feed says a spin, so each launcher gives the one it has.
PROGRAM = """feedscript 1
title "Any launcher"
court { surface hard }
balls { type 2  load 30 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 1 player  level club  receiver 1 m behind baseline, on centre line }
feed straight { land 3 m inside baseline, on centre line  speed @speed km/h }
feed to_ad { land 3 m inside baseline, 2 m to ad of centre line  apex @apex m }
feed to_deuce { land 3 m inside baseline, 2 m to deuce of centre line  flight 1.4 s }
lesson {
    show speed of straight
    repeat 2 { send straight after 6 s  send to_ad after 6 s  send to_deuce after 6 s }
}
"""

#: Of launchers in steps, a speed and an apex near to what a step gives.
ON_STEPS = {"five-steps": ("76", "2.8"), "notched-spring": ("75", "2.8")}


def program_for(stem: str) -> str:
    speed, apex = ON_STEPS.get(stem, ("85", "3"))
    return PROGRAM.replace("@speed", speed).replace("@apex", apex)


#: Of one that swings by itself no feed lands at one place (``test_sweep``).
POINTED = [path for path in shipped_profiles() if profile_at(path).sweep is None]


@pytest.mark.parametrize("path", POINTED, ids=lambda path: path.stem)
def test_each_launcher_sends_every_ball_to_where_it_was_aimed(path: Path, tmp_path) -> None:
    """Program to plan to wire to stand-in to flight: the landing comes back, scatter aside."""
    program = tmp_path / "any.feed"
    program.write_text(program_for(path.stem), encoding="utf-8")
    verdict = check_program(program, Options(launcher=path))
    assert verdict.ok, verdict.diagnostics
    assert verdict.plan is not None
    rehearsal = rehearse(verdict.plan, verdict.profiles, "any.feed", seed=3)
    assert rehearsal.ending.phase is Phase.FINISHED
    assert [ball.outcome for ball in rehearsal.balls] == [Outcome.LEFT] * 7
    scatter = {feed.name: feed.scatter.major_m for feed in verdict.plan.feeds}
    for ball in rehearsal.balls:
        assert ball.landing_m is not None
        # Beyond five standard deviations even one ball in a million runs would be a surprise.
        assert math.dist(ball.landing_m, ball.aim_m) < 5 * scatter[ball.feed]
