"""Balls on request where time is given: what a coach expects there, and a line that passes where
it cannot be known."""

from __future__ import annotations

import pytest

from feedscript.language import read
from feedscript.plan.bodies import within
from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.model import OnRequest, Plan
from tests.plan.programs import compiled
from tests.plan.test_stations_without_launcher import EAST, HEAD, SHADOW, plan_of, text_of

ASK = "send left when coach taps, at most {most}, not before 5 s"
WEST = f'station "west" on launcher west {{ {ASK.format(most=40)}  rest 9 s }}'


def lesson(steps: str) -> str:
    return HEAD.format(players='"A", "B"', keep="", steps=steps)


def asked(plan: Plan) -> list[tuple[float | None, int]]:
    """Of each series on request its time and the most of its balls, as written."""
    found = [one for one in within(plan.steps) if isinstance(one, OnRequest)]
    return [(one.lasts_s, one.at_most) for one in reversed(found)]


@pytest.mark.parametrize(
    ("steps", "found"),
    [
        # By hand: what else stands there takes the most it can, and they share the rest.
        ("for 5 min { ASK:200 }", [(300.0, 60)]),
        ("for 5 min { ASK:12 }", [(300.0, 12)]),
        ("for 100 s { send left after 10 s  ASK:99  rest 20 s }", [(70.0, 14)]),
        ("for 2 min { for each player { ASK:99  rest 9 s } }", [(51.0, 10)]),
        ("for 2 min { repeat 3 { ASK:2 } ASK:99 }", [(30.0, 2), (30.0, 6)]),
        ("rotate group every 2 min { ASK:30  rest 9 s }", [(111.0, 22)]),
        (
            "rotate group every 2 min { for 30 s { ASK:9 }  ASK:30  rest 9 s }",
            [(30.0, 6), (81.0, 16)],
        ),
        ("for each player { ASK:4  rest 9 s }", [(None, 4)]),
        ("rotate group every 24 balls { ASK:4  rest 9 s }", [(None, 4)]),
    ],
)
def test_the_time_of_the_block_is_theirs(steps: str, found: list[tuple[float, int]]) -> None:
    for most in (200, 99, 30, 12, 9, 4, 2):
        steps = steps.replace(f"ASK:{most}", ASK.format(most=most))
    assert asked(plan_of(lesson(steps))) == found


def test_a_round_of_stations_is_theirs() -> None:
    """A round of 4 min for a part of two: 2 min each, less the rest of 9 s."""
    plan = plan_of(text_of(5, [WEST, EAST, SHADOW]))
    assert asked(plan) == [(111.0, 22)] * 3
    # Each is once at west, and at east by the clock: as many there in every run.
    least, most = balls_of_player(plan, 0)
    assert most - least == 22


def test_a_block_in_a_station_needs_no_round() -> None:
    west = f'station "west" on launcher west {{ for 1 min {{ {ASK.format(most=30)} }} rest 9 s }}'
    plan = plan_of(lesson(f"together {{ {west} {EAST} }}"))
    assert asked(plan) == [(60.0, 12)]


def diagnostics(text: str) -> list[tuple[str, str]]:
    program, found = read(text, "lesson.feed")
    assert program is not None, found
    return [(one.slug, one.help or "") for one in compiled(program).diagnostics if one.is_error]


def test_a_station_of_which_nobody_knows_how_long_it_takes_is_refused_with_lines_that_pass() -> (
    None
):
    together = lesson(f"together {{ {WEST} {EAST} }}")
    ((slug, help_text),) = diagnostics(together)
    assert slug == "request-timed"
    assert "for 3 min {" in help_text
    assert "rotate stations every 6 min {" in help_text
    ask = ASK.format(most=40)
    assert diagnostics(together.replace(ask, f"for 3 min {{ {ask} }}")) == []
    assert diagnostics(together.replace("together {", "rotate stations every 6 min {")) == []


def test_a_coach_taps_for_one_station_at_a_time() -> None:
    both = lesson(f"rotate stations every 6 min {{ {WEST} {EAST} }}")
    by_tap = "send right when coach taps, at most 9, not before 5 s"
    assert [slug for slug, _ in diagnostics(both.replace("send right after 6 s", by_tap))] == [
        "request-timed"
    ]
    assert diagnostics(both) == []


@pytest.mark.parametrize(
    ("block", "slug", "least"),
    [
        ("for {} {{ ASK rest 20 s }}", "time-too-short", "25 s"),
        ("rotate group every {} {{ ASK rest 20 s }}", "turn-too-short", "25 s"),
    ],
)
def test_a_time_too_short_for_one_ball_is_refused_with_the_least(
    block: str, slug: str, least: str
) -> None:
    text = lesson(block.replace("ASK", ASK.format(most=3)).format("24 s"))
    ((found, help_text),) = diagnostics(text)
    assert (found, least in help_text) == (slug, True)
    assert diagnostics(text.replace("24 s", least)) == []
