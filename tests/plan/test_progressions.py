"""Progressions: each player on a step of their own, and every step held against every rule."""

from __future__ import annotations

import pytest

from feedscript.language import read
from feedscript.plan.bodies import within
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.folds.pairs import pairs
from feedscript.plan.interpreter.actions import Action, Ask, Reply, SendBall, StepMove
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Move, Plan, When
from feedscript.safety.changed_group import Changed, plan_for
from tests.plan.programs import compiled

HEAD = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { stands 1 m behind centre mark }
GROUP
feed medium { land 3 m inside baseline, 1 m ad of centre line  speed 78 km/h }
feed easy = medium with { speed 72 km/h }
feed deep = medium with { speed 84 km/h }
progression pace { easy, medium, deep }
PATTERN
lesson {
    show speed of pace
"""
TWO = 'group { players "Ash", "Bay" }'
EACH = "for each player { repeat 2 { send pace after 5 s }  when 1 in { step up pace } rest 20 s }"


def told(steps: str, group: str = TWO, pattern: str = ""):
    head = HEAD.replace("GROUP", group).replace("PATTERN", pattern)
    return read(f"{head}{steps}\n}}\n", "lesson.feed")


def plan_of(steps: str, group: str = TWO, pattern: str = "") -> Plan:
    program, diagnostics = told(steps, group, pattern)
    assert program is not None, diagnostics
    result = compiled(program)
    assert result.plan is not None, result.diagnostics
    return result.plan


def fed(plan: Plan, *, yes: bool = True, stands=None) -> list[tuple[int | None, str]]:
    """Who got which feed, where every question is answered so."""

    def reply(action: Action) -> Reply:
        return yes if isinstance(action, Ask) else None

    run = run_through(plan, reply, stands=stands)
    return [(a.player, plan.feeds[a.feed].wish) for a in run if isinstance(a, SendBall)]


def test_whoever_goes_up_gets_the_next_step_and_nobody_else_does() -> None:
    steps = 'for "Ash" { send pace after 5 s  when 1 in { step up pace }  rest 20 s }' + EACH
    assert fed(plan_of(steps)) == [
        (0, "easy"),
        *[(0, "medium")] * 2,
        *[(1, "easy")] * 2,
    ]  # fmt: skip


def test_the_last_step_and_the_first_are_stayed_on() -> None:
    up = "for each player { repeat 4 { send pace after 5 s  step up pace }  rest 20 s }"
    assert [feed for _, feed in fed(plan_of(up))] == ["easy", "medium", "deep", "deep"] * 2
    down = up.replace("up", "down")
    start = {(0, 0): 2, (0, 1): 1}
    assert fed(plan_of(down), stands=start) == [
        *((0, feed) for feed in ("deep", "medium", "easy", "easy")),
        *((1, feed) for feed in ("medium", "easy", "easy", "easy")),
    ]


def test_a_step_by_name_moves_that_player_wherever_it_stands() -> None:
    steps = f'step up pace of "Bay"  step up pace of "Bay"  {EACH}'
    assert fed(plan_of(steps), yes=False) == [(0, "easy")] * 2 + [(1, "deep")] * 2


def test_the_mirror_image_has_the_same_steps_and_so_has_a_patterns_parameter() -> None:
    pattern = "pattern series(ball: feed) { send ball after 5 s  step up ball  rest 20 s }"
    steps = "for each player { series(pace)  mirror series(pace)  series(mirror pace) }"
    plan = plan_of(steps, 'group { players "Ash" }', pattern)
    assert [feed for _, feed in fed(plan)] == ["easy", "mirror medium", "mirror deep"]
    moves = [a for a in run_through(plan, lambda _: None) if isinstance(a, StepMove)]
    assert [(move.before, move.after) for move in moves] == [(0, 1), (1, 2), (2, 2)]


def test_every_step_is_a_branch_for_everybody() -> None:
    plan = plan_of("for each player { repeat 2 { send pace after 5 s } rest 20 s }")
    wishes = [feed.wish for feed in plan.feeds]
    followed = {
        (wishes[one.before], wishes[one.after]) for one in pairs(plan) if one.before is not None
    }
    three = ("easy", "medium", "deep")
    assert followed >= {(before, after) for before in three for after in three}
    fastest = max(feed.speed_mps for feed in plan.feeds)
    assert bounds(plan).fastest_mps == fastest == plan.feeds[wishes.index("deep")].speed_mps


def test_the_fastest_step_is_shown() -> None:
    plan = plan_of(EACH)
    assert plan.feeds[plan.steps[0].feed].wish == "deep"


def test_left_handers_and_those_who_wait_elsewhere_get_their_own_ball_on_each_step() -> None:
    group = (
        'group { player "Ash" { left-handed }  '
        'player "Bay" { receiver 2 m inside baseline, on centre line } }'
    )
    head = HEAD.replace("1 m ad of centre line", "1 m inside forehand sideline")
    steps = "for each player { repeat 3 { send pace after 5 s  step up pace } rest 20 s }"
    text = head.replace("GROUP", group).replace("PATTERN", "")
    program, found = read(f"{text}{steps}\n}}\n", "lesson.feed")
    assert program is not None, found
    plan = compiled(program).plan
    assert plan is not None
    run = [a for a in run_through(plan, lambda _: None) if isinstance(a, SendBall)]
    names = [plan.feeds[ball.feed].name for ball in run]
    assert names[:3] == [f"{step} (left-hander)" for step in ("easy", "medium", "deep")]
    assert names[3:] == [f"{step} for Bay" for step in ("easy", "medium", "deep")]


@pytest.mark.parametrize(
    ("steps", "slug", "fix"),
    [
        ("send pace after 5 s", "progression", "for each player { send pace after 5 s }"),
        ("step up pace", "progression", 'step up pace of "Ash"'),
        ('step up pace of "Asch"', "nobody-there", 'did you mean "Ash"?'),
        ("for each player { step up deep }", "wrong-kind", "progression pace { easy, deep }"),
        (
            "for each player { send by level { club: pace otherwise: deep } after 5 s }",
            "wrong-kind",
            "send pace after 5 s",
        ),
    ],
)
def test_what_cannot_be_is_told_with_what_to_write(steps: str, slug: str, fix: str) -> None:
    program, found = told(steps)
    assert program is None
    assert [one.slug for one in found] == [slug]
    assert fix in (found[0].help or "")


@pytest.mark.parametrize(
    ("written", "slug"),
    [
        ("progression climb { deep }", "progression"),
        ("progression climb { }", "progression"),
        ("progression climb { easy, deep, easy }", "said-twice"),
        ("progression climb { pace, deep }", "wrong-kind"),
        ("progression deep { easy, medium }", "name-taken"),
        ("progression climb { easy, medum }", "unknown-name"),
    ],
)
def test_a_progression_that_is_none_is_told(written: str, slug: str) -> None:
    program, found = told(EACH, pattern=written)
    assert program is None
    assert [one.slug for one in found] == [slug]


def test_a_group_that_changes_is_judged_with_the_steps_of_those_who_are_here() -> None:
    """Whoever a step or a question names may be gone, or have another number."""
    steps = f'step up pace of "Bay"  when "Bay" has 1 in {{ step down pace of "Ash" }}  {EACH}'
    plan = plan_of(steps)
    for here in ("Bay", "Ash"):
        left = tuple(player for player in plan.group.players if player.name == here)
        other = plan_for(plan, Changed(players=left, had={}))
        moves = [one for one in within(other.steps) if isinstance(one, Move)]
        asked = [one.condition for one in within(other.steps) if isinstance(one, When)]
        of_bay = 0 if here == "Bay" else None
        assert {one.player for one in moves if one.up} >= {of_bay}
        assert [one.player for one in asked if one.player is not None] == (
            [0] if here == "Bay" else []
        )
