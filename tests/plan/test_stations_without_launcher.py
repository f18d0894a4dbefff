"""Stations where players work by themselves: who is where, counted from the actions of the runs."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.language import read
from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.interpreter.actions import (
    Pause,
    PickUp,
    SendBall,
    Speak,
    StartStations,
    TakeTurn,
)
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Collect, Plan
from tests.plan.programs import compiled

NAMES = tuple("ABCDEFGHIJK")
HEAD = """feedscript 1
court {{ surface hard  lines doubles }}
balls {{ type 2 }}
launcher west {{ stands 1 m behind baseline, 2.5 m to ad of centre mark }}
launcher east {{ stands 1 m behind baseline, 2.5 m to deuce of centre mark }}
group {{ players {players}  level club  {keep} }}
feed left {{
    land 3 m inside baseline, 2.5 m to deuce of centre line  speed 85 km/h  receiver at -2.5 m, 13 m
}}
feed right {{
    land 3 m inside baseline, 2.5 m to ad of centre line  speed 85 km/h  receiver at 2.5 m, 13 m
}}
lesson {{
    show speed of left
    show speed of right
    {steps}
}}
"""
WEST = 'station "west" on launcher west { repeat 3 { send left after 5 s }  rest 9 s }'
EAST = 'station "east" on launcher east { repeat 2 { send right after 6 s }  rest 9 s }'
SHADOW = 'station "shadow" { work "Split step." for 50 s  rest 10 s }'
SERVES = 'station "serves" at ad run-off { work "Second serves." }'


def text_of(
    players: int, stations: list[str], keep: str = "", every: str = "4 min", between: str = ""
) -> str:
    names = ", ".join(f'"{name}"' for name in NAMES[:players])
    steps = f"rotate stations every {every}{between} {{ {' '.join(stations)} }}"
    return HEAD.format(players=names, keep=keep, steps=steps)


def plan_of(text: str) -> Plan:
    program, found = read(text, "lesson.feed")
    assert program is not None, found
    result = compiled(program)
    assert result.diagnostics == ()
    assert result.plan is not None
    return result.plan


def rounds_of(plan: Plan) -> list[dict[str, set[str]]]:
    """In each round who is at which station, from what the interpreter does there."""
    names = [player.name for player in plan.group.players]
    found: list[dict[str, set[str]]] = []
    for action in run_through(plan, lambda _: None):
        if isinstance(action, StartStations):
            found.append({})
        elif action.station:
            there = found[-1].setdefault(action.station, set())
            if isinstance(action, TakeTurn):
                assert action.player is not None
                there.add(names[action.player])
            elif isinstance(action, Speak):
                there.update(names[number] for number in action.players)
    return found


CASES = st.tuples(
    st.integers(1, 11),
    st.lists(st.sampled_from([WEST, EAST, SHADOW, SERVES]), min_size=2, max_size=4, unique=True),
)


@settings(max_examples=40, deadline=None)
@given(CASES, st.data())
def test_everybody_is_once_at_each_station_and_never_at_two(case, data) -> None:
    holds(*case, data)


@pytest.mark.long
@pytest.mark.timeout(3600)
@settings(max_examples=2000, deadline=None)
@given(CASES, st.data())
def test_the_same_of_2000_lessons(case, data) -> None:
    holds(*case, data)


def holds(players: int, stations: list[str], data) -> None:
    pairs = list(combinations(NAMES[:players], 2))
    keep = ""
    if pairs and players >= len(stations) and data.draw(st.booleans()):
        one, other = data.draw(st.sampled_from(pairs))
        keep = f'keep apart "{one}", "{other}"'
    between = data.draw(st.sampled_from(["", ", collect between"]))
    text = text_of(players, stations, keep, between=between)
    program, found = read(text, "lesson.feed")
    assert program is not None, found
    result = compiled(program)
    if result.diagnostics:
        assert keep
        assert {one.slug for one in result.diagnostics} == {"kept-otherwise"}
        return
    plan = result.plan
    assert plan is not None
    rounds = rounds_of(plan)
    assert len(rounds) == len(stations)
    of_all = [a for a in run_through(plan, lambda _: None) if isinstance(a, StartStations | PickUp)]
    order = [StartStations, PickUp] if between else [StartStations]
    assert [type(one) for one in of_all] == (order * len(stations))[
        : len(order) * len(stations) - len(order) + 1
    ]
    been: Counter[tuple[str, str]] = Counter()
    for where in rounds:
        people = [name for there in where.values() for name in there]
        assert len(people) == len(set(people)) == players
        sizes = [len(there) for there in where.values()] + [0] * (len(stations) - len(where))
        assert max(sizes) - min(sizes) <= 1
        been.update((name, station) for station, there in where.items() for name in there)
        if keep:
            assert not any({one, other} <= there for there in where.values())
    assert set(been.values()) == {1}
    fed = Counter(a.player for a in run_through(plan, lambda _: None) if isinstance(a, SendBall))
    for player in range(players):
        least, most = balls_of_player(plan, player)
        assert least == fed[player] == most


@pytest.mark.parametrize("players", [5, 7, 11])
def test_who_is_left_over_costs_nobody_balls_or_time(players: int) -> None:
    plan = plan_of(text_of(players, [WEST, EAST, SHADOW]))
    fed = Counter(a.player for a in run_through(plan, lambda _: None) if isinstance(a, SendBall))
    assert len(set(fed.values())) == 1
    assert sorted(fed) == list(range(players))


def test_where_all_work_at_once_those_kept_apart_need_as_many_stations() -> None:
    """Four who are kept apart from each other at three stations: two of them would be together at
    the one where all work at once. At launchers each of them would have a turn of their own."""
    keep = 'keep apart "A", "B", "C", "D"'
    program, _ = read(text_of(11, [WEST, EAST, SHADOW], keep), "lesson.feed")
    assert program is not None
    (found,) = compiled(program).diagnostics
    assert found.slug == "kept-otherwise"


def test_work_is_repeated_as_often_as_it_fits_and_lasts_as_long_as_it_says() -> None:
    plan = plan_of(text_of(3, [WEST, SHADOW], every="150 s"))
    actions = [a for a in run_through(plan, lambda _: None) if a.station == "shadow"]
    assert [(a.at_s, a.text) for a in actions if isinstance(a, Speak)] == [
        (0.0, "Split step."),
        (60.0, "Split step."),
        (150.0, "Split step."),
        (210.0, "Split step."),
    ]
    rests = [(a.at_s, a.until_s) for a in actions if isinstance(a, Pause)]
    assert rests[:2] == [(0.0, 50.0), (50.0, 60.0)]


def test_work_longer_than_its_time_at_the_station_is_refused() -> None:
    program, _ = read(text_of(3, [WEST, SHADOW], every="55 s"), "lesson.feed")
    assert program is not None
    found = compiled(program).diagnostics
    assert {one.slug for one in found} == {"turn-too-short"}
    assert "55 s" in found[0].message


def test_with_one_launcher_only_the_station_that_sends_has_it() -> None:
    text = text_of(4, ['station "a" { send left after 9 s }', 'station "b" { work "Serve." }'])
    lines = [line for line in text.splitlines() if not line.startswith("launcher east")]
    one = "\n".join(lines).replace("launcher west", "launcher")
    plan = plan_of(one.replace("show speed of right", ""))
    assert [station.launcher for station in plan.steps[1].stations] == [0, None]


@pytest.mark.parametrize(
    ("station", "slug", "fix"),
    [
        ('station "s" { work "x"  send left after 5 s }', "work-by-themselves", "on launcher east"),
        ('station "s" at ad run-off { send left after 5 s }', "work-by-themselves", "on launcher"),
        ('station "s" on launcher east { work "x" }', "work-by-themselves", "station of its own"),
        ('station "s" { send left after 5 s }', "stations", "on launcher"),
    ],
)
def test_a_launcher_too_few_or_too_many_is_told_with_the_line_that_passes(
    station: str, slug: str, fix: str
) -> None:
    program, diagnostics = read(text_of(4, [WEST, station]), "lesson.feed")
    assert program is None
    (found,) = diagnostics
    assert found.slug == slug
    assert fix in (found.help or "")


@pytest.mark.parametrize(
    ("work", "fix"),
    [
        ('work "Run." rotate', '`work "Run." for 3 min`'),
        ('work "Run." rotate', "rotate stations"),
        ('for each player { work "Run." for 1 min } rotate', "before or after the turns"),
    ],
)
def test_work_of_everybody_says_how_long_and_is_nobodys_turn(work: str, fix: str) -> None:
    text = text_of(4, [WEST]).replace("rotate", work)
    program, (found,) = read(text, "lesson.feed")
    assert program is None
    assert found.slug == "work-by-themselves"
    assert fix in (found.help or "")


def test_during_work_of_everybody_the_launcher_is_off() -> None:
    text = text_of(4, [WEST]).replace("rotate", 'work "Shadow the split step." for 3 min rotate')
    program, found = read(text, "lesson.feed")
    assert program is not None, found
    plan = compiled(program).plan
    assert plan is not None
    (pause,) = (one for one in plan.steps if isinstance(one, Collect))
    assert (pause.words, pause.break_s) == ("Shadow the split step.", 180.0)


def test_after_work_come_turns_for_each_player() -> None:
    """`for` after the words is the work's time only where a time follows."""
    text = text_of(4, ['station "s" { work "x" } '])
    text = text.replace('"s" { work "x" }', '"s" { work "x"  for each player { rest 3 s } }')
    _, diagnostics = read(text, "lesson.feed")
    assert "nested-turns" in {one.slug for one in diagnostics}
    assert not {"unexpected", "missing-value"} & {one.slug for one in diagnostics}
