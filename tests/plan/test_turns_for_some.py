"""Turns for some players only: counted from what the interpreter does, and from nothing else."""

from __future__ import annotations

from collections import Counter

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.language import read
from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.interpreter.actions import Ask, SendBall, TakeTurn
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan
from feedscript.safety.hazards.work import balls_of_each
from tests.plan.programs import compiled

NAMES = ("Ash", "Bay", "Cob", "Den", "Elm")
HEAD = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { stands 1 m behind centre mark }
group { players "Ash", "Bay", "Cob", "Den", "Elm"  level club  subgroup "ends" "Elm", "Ash" }
feed deep { land 3 m inside baseline, on centre line  speed 78 km/h }
lesson {
    show speed of deep
"""
STATIONS = HEAD.replace(
    "launcher { stands 1 m behind centre mark }",
    "launcher west { stands 1 m behind baseline, 2.5 m to ad of centre mark }\n"
    "launcher east { stands 1 m behind baseline, 2.5 m to deuce of centre mark }",
)


def plan_of(steps: str, head: str = HEAD) -> Plan:
    program, diagnostics = read(f"{head}{steps}\n}}\n", "lesson.feed")
    assert program is not None, diagnostics
    result = compiled(program)
    assert result.diagnostics == ()
    assert result.plan is not None
    return result.plan


def on_turn(plan: Plan) -> list[str]:
    turns = run_through(plan, lambda _: None)
    return [NAMES[a.player] for a in turns if isinstance(a, TakeTurn) and a.player is not None]


@pytest.mark.parametrize(
    ("turns", "expected"),
    [
        ('for "Cob"', "Cob"),
        ('for "Den", "Bay"', "Bay Den"),
        ('for "ends"', "Ash Elm"),
        ('for "ends", "Bay", "Ash"', "Ash Bay Elm"),
        ('for each player except "Cob", "ends"', "Bay Den"),
        ("for each player", "Ash Bay Cob Den Elm"),
    ],
)
def test_turns_are_for_exactly_those_in_the_order_of_the_group(turns: str, expected: str) -> None:
    text = f'{turns} {{ send deep after 5 s }} for "ends" {{ send deep after 5 s }}'
    assert on_turn(plan_of(text)) == [*expected.split(), "Ash", "Elm"]


@pytest.mark.parametrize(
    ("turns", "words", "fix"),
    [
        ('for "Ahs"', '"Ahs"', '"Ash"'),
        ('for "Zoe"', '"Zoe"', '"Bay"'),
        ('for each player except "Ash", "Bay", "Cob", "Den", "Elm"', "every player", "fewer"),
    ],
)
def test_who_is_not_in_the_group_has_no_turn_and_is_told(turns, words, fix) -> None:
    program, diagnostics = read(
        f'{HEAD}{turns} {{ send deep after 5 s }} for "ends" {{ send deep after 5 s }} }}',
        "lesson.feed",
    )
    assert program is None
    (found,) = diagnostics
    assert (found.slug, words in found.message, fix in (found.help or "")) == (
        "nobody-there",
        True,
        True,
    )


def test_whom_a_station_names_is_there_and_the_others_share_the_rest() -> None:
    steps = """together {
        station "w" on launcher west { for "Cob" { send deep after 5 s  rest 9 s } }
        station "e" on launcher east { for each player { send deep after 5 s  rest 9 s } }
    }
    for "ends" { send deep after 5 s }"""
    plan = plan_of(steps, STATIONS)
    together = plan.steps[2]
    assert [station.players for station in together.stations] == [(2,), (0, 1, 3, 4)]
    fed = {
        (a.station, a.player)
        for a in run_through(plan, lambda _: None)
        if isinstance(a, SendBall) and a.station
    }
    assert fed == {("w", 2), ("e", 0), ("e", 1), ("e", 3), ("e", 4)}


def test_nobody_can_be_named_at_two_stations_at_once() -> None:
    steps = """together {
        station "w" on launcher west { for "Cob" { send deep after 5 s } }
        station "e" on launcher east { for "Bay", "Cob" { send deep after 5 s } }
    }
    for "ends" { send deep after 5 s }"""
    program, _ = read(f"{STATIONS}{steps}}}", "lesson.feed")
    assert program is not None
    (found,) = compiled(program).diagnostics
    assert found.slug == "two-places"
    assert "Cob" in found.message


# -- generated lessons ------------------------------------------------------------------------

PICKED = st.lists(st.sampled_from(NAMES), min_size=1, max_size=4, unique=True)
SENT = st.sampled_from(
    [
        "send deep after 5 s",
        "repeat 3 { send deep after 5 s }",
        "choose { 1: send deep after 5 s  2: repeat 2 { send deep after 4 s } }",
        "until 2 in, at most 3 { send deep after 5 s }",
        "when 1 in { send deep after 5 s } otherwise { rest 2 s }",
        "rest 3 s",
    ]
)


def _named(names: list[str], body: str) -> tuple[str, frozenset[str]]:
    whom = ", ".join(f'"{name}"' for name in names)
    return f"for {whom} {{ {body} }}", frozenset(names)


def _except(names: list[str], body: str) -> tuple[str, frozenset[str]]:
    text, left_out = _named(names, body)
    return text.replace("for", "for each player except", 1), frozenset(NAMES) - left_out


STEP = st.one_of(
    st.builds(_named, PICKED, SENT),
    st.builds(_except, PICKED, SENT),
    SENT.map(lambda body: (f"for each player {{ {body} }}", frozenset(NAMES))),
)


@settings(max_examples=25, deadline=None)
@given(st.lists(STEP, min_size=1, max_size=4), st.randoms(use_true_random=False))
def test_every_player_gets_within_the_bounds_in_every_run_and_nobody_else(steps, rng) -> None:
    within_bounds(steps, rng)


@pytest.mark.long
@pytest.mark.timeout(3600)
@settings(max_examples=2000, deadline=None)
@given(st.lists(STEP, min_size=1, max_size=4), st.randoms(use_true_random=False))
def test_the_same_of_2000_lessons(steps, rng) -> None:
    within_bounds(steps, rng)


def within_bounds(steps, rng) -> None:
    text = "\n".join(words for words, _ in steps) + '\nfor "ends" { rest 1 s }'
    plan = plan_of(text)
    turns = [set(group) for _, group in steps] + [{"Ash", "Elm"}]
    bounds = [balls_of_player(plan, player) for player in range(len(NAMES))]
    # All balls are in turns, so what the safety rule counts is no more than what each can get.
    assert balls_of_each(plan) == tuple(most for _, most in bounds)
    for seed in range(4):
        run = list(
            run_through(
                msgspec.structs.replace(plan, seed=seed),
                lambda action: rng.random() < 0.5 if isinstance(action, Ask) else None,
            )
        )
        fed = Counter(a.player for a in run if isinstance(a, SendBall))
        assert None not in fed
        for player, (least, most) in enumerate(bounds):
            assert least <= fed[player] <= most
        had = [NAMES[a.player] for a in run if isinstance(a, TakeTurn)]
        assert had == [name for group in turns for name in NAMES if name in group]


# -- feeds by level -----------------------------------------------------------------------------

LEVELS = ("beginner", "improver", "club", "county")
MIXED = """feedscript 1
court {{ surface hard }}
balls {{ type 2 }}
launcher {{ stands 1 m behind centre mark }}
group {{ {players} }}
feed beginner {{ land 5 m inside baseline, on centre line  speed 68 km/h }}
feed improver {{ land 4 m inside baseline, on centre line  speed 72 km/h }}
feed club {{ land 3 m inside baseline, on centre line  speed 78 km/h }}
feed county {{ land 2 m inside baseline, on centre line  speed 84 km/h }}
lesson {{
    show speed of county
    {steps}
}}
"""


def mixed(levels: list[str], steps: str, more: str = "", group: str = "") -> str:
    players = " ".join(
        f'player "{name}" {{ level {level} {more if name == "Bay" else ""} }}'
        for name, level in zip(NAMES, levels, strict=False)
    )
    return MIXED.format(players=f"{players} {group}", steps=steps)


def got(plan: Plan) -> dict[str, set[str]]:
    """The wishes that each player is sent in a run, by name."""
    found: dict[str, set[str]] = {}
    for action in run_through(plan, lambda _: None):
        if isinstance(action, SendBall) and action.player is not None:
            name = plan.group.players[action.player].name
            found.setdefault(name, set()).add(plan.feeds[action.feed].wish)
    return found


@settings(max_examples=20, deadline=None)
@given(st.lists(st.sampled_from(LEVELS), min_size=1, max_size=5), st.data())
def test_each_player_gets_the_feed_of_their_own_level(levels: list[str], data) -> None:
    there = sorted(set(levels))
    named = data.draw(st.lists(st.sampled_from(there), min_size=1, unique=True))
    every = len(named) == len(there)
    feeds = " ".join(f"{level}: {level}" for level in named)
    others = "" if every and data.draw(st.booleans()) else "otherwise: beginner"
    sent = f"for each player {{ send by level {{ {feeds} {others} }} after 5 s }}"
    group = data.draw(st.sampled_from(["", *(f"level {level}" for level in LEVELS)]))
    program, found = read(mixed(levels, sent, group=group), "lesson.feed")
    assert program is not None, found
    plan = compiled(program).plan
    assert plan is not None
    expected = [level if level in named else "beginner" for level in levels]
    assert got(plan) == {name: {feed} for name, feed in zip(NAMES, expected, strict=False)}
    fastest = max(plan.feeds[i].speed_mps for i, f in enumerate(plan.feeds) if f.wish in expected)
    assert bounds(plan).fastest_mps == max(
        fastest, next(f.speed_mps for f in plan.feeds if f.wish == "county")
    )


@pytest.mark.parametrize(
    ("steps", "fix"),
    [
        ("for each player { send by level { club: club } after 5 s }", "`improver: club`"),
        ("send by level { club: club  improver: improver } after 5 s", "for each player"),
    ],
)
def test_a_level_that_is_left_out_is_told_with_what_to_write(steps: str, fix: str) -> None:
    program, (found,) = read(mixed(["club", "improver"], steps), "lesson.feed")
    assert program is None
    assert found.slug == "by-level"
    assert fix in (found.help or "")


def test_a_turn_by_name_needs_only_the_levels_of_those_named() -> None:
    steps = 'for "Ash" { send by level { club: club } after 5 s }'
    assert read(mixed(["club", "improver"], steps), "lesson.feed")[0] is not None


def test_a_ball_is_received_where_the_player_waits_who_gets_it() -> None:
    place = "receiver 2 m inside baseline, on centre line"
    steps = (
        "for each player { send club after 5 s }\n"
        'for "Ash" { send improver after 5 s }  for "Bay" { send county after 5 s }'
    )
    program, _ = read(mixed(["club", "club"], steps, place), "lesson.feed")
    assert program is not None
    plan = compiled(program).plan
    assert plan is not None
    at = {feed.name: feed.receiver_m for feed in plan.feeds}
    bay = (0.0, pytest.approx(39 * 0.3048 - 2))  # baseline: ITF Rules of Tennis, Rule 1
    assert at["club"] is None
    assert at["club for Bay"] == bay
    assert at["improver"] is None
    assert "improver for Bay" not in at  # nobody sends it to Bay
    assert at["county for Bay"] == bay
    fed = [
        (a.player, plan.feeds[a.feed].name)
        for a in run_through(plan, lambda _: None)
        if isinstance(a, SendBall)
    ]
    assert fed == [(0, "club"), (1, "club for Bay"), (0, "improver"), (1, "county for Bay")]
