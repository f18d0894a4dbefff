"""Collecting between the rounds of stations is the rounds one by one, with a collect after each."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.language import read
from feedscript.plan.model import Collect, Exercise, Plan, Together
from feedscript.safety.rules.short_of_balls import needed
from tests.plan.programs import compiled
from tests.plan.test_stations_without_launcher import EAST, SHADOW, WEST, plan_of, text_of

ALL = [WEST, EAST, SHADOW]


def rounds(between: str) -> Plan:
    return plan_of(text_of(5, ALL, between=between))


@pytest.mark.parametrize("between", [", collect between", " collect between"])
def test_it_stands_after_each_round_but_the_last(between: str) -> None:
    steps = rounds(between).steps[2:]
    assert [type(step) for step in steps] == [Together, Collect, Together, Collect, Together]


def test_the_rounds_are_what_they_are_without_it() -> None:
    plan, without = rounds(", collect between"), rounds("")
    assert [one for one in plan.steps if not isinstance(one, Collect)] == list(without.steps)
    assert plan.bounds == without.bounds


def test_the_longer_form_says_the_same() -> None:
    short = text_of(4, [WEST, EAST], between=", collect between")
    long = short.replace("rotate stations", "rotate group").replace(
        "between {", "between { together {"
    )
    long = long.replace(f"{EAST} }}", f"{EAST} }} }}")
    assert plan_of(long).steps == plan_of(short).steps


def test_a_load_need_only_last_one_round() -> None:
    """By hand: a part of two has 4 min, so each of them 2 min; a pass of 3 balls and the rest takes
    24 s, so 5 fit. 2 players, 5 passes, 3 balls, and the ball that was shown: 31 in one round."""
    found = []
    for between in (", collect between", ""):
        plan = plan_of(text_of(4, [WEST, EAST], between=between))
        found.append(needed(plan, 0))
    assert found == [31, 61]


def refused(steps: str) -> tuple[str, str]:
    text = text_of(4, [WEST, EAST])
    head, tail = text.split("rotate", maxsplit=1)
    del tail
    program, found = read(f"{head}{steps} }}", "lesson.feed")
    if program is not None:
        found = compiled(program).diagnostics
    (only,) = found
    return only.slug, only.help or ""


FORM = "rotate stations every 6 min, collect between { … }"


@pytest.mark.parametrize(
    ("steps", "slug", "fix"),
    [
        (f"rotate stations every 4 min {{ {WEST[:-1]} collect }} {EAST} }}", "station-step", FORM),
        (
            f"rotate stations every 4 min {{ {WEST} {SHADOW[:-1]} collect }} }}",
            "station-step",
            FORM,
        ),
        (f"rotate stations every 4 min {{ {WEST} {EAST} collect }}", "unknown-step", FORM),
        (f"together {{ {WEST} {EAST} collect }}", "unexpected-word", "station"),
        (
            "rotate group every 2 min, collect between { send left after 9 s }",
            "stations",
            "for each",
        ),
        (f"rotate stations every 4 min, collect between {{ {WEST} }}", "stations", "leave"),
        (
            f'together {{ station "west" on launcher west {{ rotate group every 1 min, '
            f"collect between {{ send left after 9 s }} }} {EAST} }}",
            "stations",
            "for each player",
        ),
    ],
)
def test_where_it_cannot_stand_the_message_offers_what_passes(
    steps: str, slug: str, fix: str
) -> None:
    told, help_text = refused(steps)
    assert told == slug
    assert fix in help_text


def test_what_the_messages_offer_passes() -> None:
    plan_of(text_of(4, [WEST, EAST], between=", collect between", every="6 min"))
    steps = "for each player { send left after 9 s  rest 9 s  collect }"
    text = text_of(4, [WEST, EAST]).split("rotate", maxsplit=1)[0] + steps + " }"
    assert plan_of(text)


def test_it_stands_in_an_exercise() -> None:
    text = text_of(4, [WEST, EAST], between=", collect between")
    inside = text.replace("rotate", 'exercise "Two" { rotate').replace(
        "rest 9 s } }", "rest 9 s } } }"
    )
    (exercise,) = (one for one in plan_of(inside).steps if isinstance(one, Exercise))
    assert [type(one) for one in exercise.body] == [Together, Collect, Together]
    assert msgspec.json.encode(exercise.body[1]).count(b"collect") == 1
