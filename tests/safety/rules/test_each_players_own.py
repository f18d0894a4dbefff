"""A ball is judged for the most careful of those who can get it, and for nobody else."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.check.check_program import Verdict, check_program

PROGRAM = """feedscript 1
court {{ surface hard }}
balls {{ stage green  load 80 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ player "Ana" {{ {ana} }}  player "Ben" {{ {ben} }} }}
feed drive {{ land 2 m inside baseline, on centre line  speed 100 km/h  spin top 900 rpm }}
feed easy {{ land 4 m inside baseline, on centre line  speed 76 km/h  spin top 900 rpm }}
lesson {{
    show speed of drive
    {steps}
}}
"""


def judged(
    steps: str, ana: str = "level county", ben: str = "stage green", more: str = ""
) -> Verdict:
    text = PROGRAM.format(steps=steps, ana=ana, ben=ben, more=more)
    return check_program(Path("own.feed"), text=text)


def errors(verdict: Verdict) -> list[str]:
    return [one.slug for one in verdict.diagnostics if one.is_error]


BOTH = "for each player {{ repeat 3 {{ {} }}  rest 12 s }}"


def too_fast(verdict: Verdict) -> list[str]:
    """For whom the drive is too fast, as the message says it."""
    told = [one.message for one in verdict.diagnostics if one.slug == "too-fast-for-group"]
    return [one.partition("; for ")[2] for one in told if one.startswith("drive")]


def test_the_fast_ball_may_go_to_whom_it_suits_and_to_nobody_else() -> None:
    """The drive reaches its receiver faster than the 10 m/s of the red stage (the rule's own
    figure), and slower than the county's 33."""
    ben = "stage red"
    assert too_fast(judged(BOTH.format("send drive after 5 s"), ben=ben)) == [
        "Ben 36 km/h is the most"
    ]
    by_name = 'for "{}" {{ repeat 3 {{ send drive after 5 s }}  rest 12 s }}'
    assert too_fast(judged(by_name.format("Ana"), ben=ben)) == []
    assert too_fast(judged(by_name.format("Ben"), ben=ben)) == ["Ben 36 km/h is the most"]


def test_by_level_each_branch_is_judged_for_those_who_get_it() -> None:
    ben = "stage red  level beginner"
    sent = BOTH.format("send by level { county: %s  beginner: %s } after 5 s")
    assert too_fast(judged(sent % ("drive", "easy"), ben=ben)) == []
    assert too_fast(judged(sent % ("easy", "drive"), ben=ben)) == ["Ben 36 km/h is the most"]


@pytest.mark.parametrize(("ben", "told"), [("stage red", True), ("level club", False)])
def test_the_slowest_walker_settles_how_long_a_change_over_takes(ben: str, told: bool) -> None:
    """Club: 4 m at 1.6 m/s and 2 s; red: 4 m at 0.8 m/s and 3 s (the rule's own figures)."""
    steps = "for each player { repeat 3 { send easy after 5 s }  rest 2 s }"
    assert ("short-change-over" in errors(judged(steps, "level club", ben))) is told


def test_the_guide_of_balls_goes_by_each_players_own_stage() -> None:
    """Ben, green, may have 160 balls as a guide, Ana 300; only who goes past their own is told."""
    much = "repeat 4 {{ for {} {{ repeat 50 {{ send easy after 5 s }}  rest 20 s }}  collect }}"
    for name, told in (("Ana", False), ("Ben", True)):
        found = judged(much.format(f'"{name}"')).diagnostics
        many = [one for one in found if one.slug == "many-balls"]
        assert bool(many) is told
        assert all("Ben may get 200 balls; the guide is 160" in one.message for one in many)


def test_the_balls_are_no_livelier_than_the_slowest_stage_plays_with() -> None:
    assert "wrong-ball" in errors(judged(BOTH.format("send easy after 5 s"), ben="stage red"))
    assert "wrong-ball" not in errors(judged(BOTH.format("send easy after 5 s")))
