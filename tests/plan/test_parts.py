"""A group in parts: those kept together play at the same time, those kept apart never do."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.language import program as said
from feedscript.language.program import GroupDecl, LauncherDecl
from feedscript.plan.interpreter.actions import SendBall, TakeTurn
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.parts import parted, shares
from tests.plan.programs import at, compiled, program, rest, send

TWO = (LauncherDecl(name="north"), LauncherDecl(name="south", stands_m=(3.0, -12.9)))
NAMES = ("Ash", "Bay", "Cob", "Den", "Elm", "Fir")


def group(names: tuple[str, ...] = NAMES, **more) -> GroupDecl:
    return GroupDecl(players=len(names), names=names, **more)


def both(*, each: bool = True, south_s: float = 4.0) -> said.TogetherStatement:
    def station(name: str, gap_s: float) -> said.StationStatement:
        body = (send(after_s=gap_s), rest(8.0))
        turns = (said.EachPlayerStatement(body=body, span=at(9)),) if each else body
        return said.StationStatement(name=name[0], launcher=name, body=turns, span=at(8))

    return said.TogetherStatement(
        stations=(station("north", 4.0), station("south", south_s)), span=at(7)
    )


def rounds(*, every_s: float | None = 60.0, balls: int | None = None) -> said.RotateStatement:
    return said.RotateStatement(
        every_s=every_s, every_balls=balls, body=(both(each=False),), span=at(6)
    )


def on_court(plan) -> list[tuple[str, str, float, float]]:
    """Each turn of the lesson as it runs: who, where, from when until when."""
    names = [player.name for player in plan.group.players]
    turns, balls = [], []
    for action in run_through(plan, lambda _: None):
        if isinstance(action, TakeTurn):
            turns.append((names[action.player], action.station, action.at_s))
        elif isinstance(action, SendBall):
            balls.append((action.at_s, action.station, names[action.player]))
    return [
        (who, where, begins, max(s for s, st_, n in balls if (st_, n) == (where, who)))
        for who, where, begins in turns
    ]


def at_once(plan) -> set[frozenset[str]]:
    """Every two who are on at the same time."""
    found = set()
    for one, other in combinations(on_court(plan), 2):
        if one[1] != other[1] and one[2] < other[3] and other[2] < one[3]:
            found.add(frozenset((one[0], other[0])))
    return found


def lesson(step, who: GroupDecl):
    result = compiled(program(step, launchers=TWO, group=who))
    assert result.diagnostics == ()
    return result.plan


@pytest.mark.parametrize("step", [both(), rounds()], ids=["each player", "round the stations"])
def test_those_kept_apart_are_never_on_at_the_same_time_nor_at_one_station(step) -> None:
    apart = (("Ash", "Bay"), ("Cob", "Fir"))
    plan = lesson(step, group(keep_apart=apart))
    for pair in apart:
        assert frozenset(pair) not in at_once(plan)
        for together in plan.steps:
            parts = [{NAMES[p] for p in station.players} for station in together.stations]
            assert not any(set(pair) <= part for part in parts)


@pytest.mark.parametrize("step", [both(), rounds()], ids=["each player", "round the stations"])
def test_those_kept_together_are_on_at_the_same_time(step) -> None:
    plan = lesson(step, group(keep_together=(("Ash", "Bay"), ("Den", "Elm"))))
    assert {frozenset(("Ash", "Bay")), frozenset(("Den", "Elm"))} <= at_once(plan)


def test_round_the_stations_everybody_is_named_and_has_as_long_at_each() -> None:
    plan = lesson(rounds(), group())
    turns = on_court(plan)
    assert sorted((who, where) for who, where, *_ in turns) == sorted(
        (name, station) for name in NAMES for station in ("n", "s")
    )
    assert [step.for_s for step in plan.steps] == [60.0, 60.0]
    assert {s.body[0].every_s for step in plan.steps for s in step.stations} == {20.0}
    fed = [a.player for a in run_through(plan, lambda _: None) if isinstance(a, SendBall)]
    assert None not in fed
    assert len({fed.count(player) for player in range(6)}) == 1


def test_round_the_stations_the_balls_of_a_turn_are_shared_too() -> None:
    plan = lesson(rounds(every_s=None, balls=6), group())
    assert {s.body[0].passes for step in plan.steps for s in step.stations} == {2}


@pytest.mark.parametrize(
    ("step", "who"),
    [
        (both(), group(keep_together=(("Ash", "Bay", "Cob"),))),
        (both(), group(("Ash", "Bay"), keep_apart=(("Ash", "Bay"),))),
        (both(), group(keep_apart=(("Ash", "Bay"),), keep_together=(("Ash", "Bay"),))),
        (both(south_s=5.0), group(keep_apart=(("Ash", "Bay"),))),
        (both(each=False), group(keep_apart=(("Ash", "Bay"),))),
        (said.EachPlayerStatement(body=(send(),), span=at(9)), group(keep_apart=(("Ash", "Bay"),))),
    ],
    ids=["three at two", "no turn left", "both", "out of step", "nobody named", "no stations"],
)
def test_what_cannot_be_kept_is_refused_with_the_cause(step, who) -> None:
    found = compiled(program(step, launchers=TWO, group=who)).diagnostics
    assert [one.slug for one in found] == ["kept-otherwise"]
    assert found[0].help
    assert found[0].span is not None


def test_a_round_too_short_for_all_at_a_station_says_how_long_it_must_be() -> None:
    found = compiled(program(rounds(every_s=30.0), launchers=TWO, group=group())).diagnostics
    assert {one.slug for one in found} == {"turn-too-short"}
    assert "of 3 players at a station each has 10 s" in found[0].message
    assert "every 36 s" in found[0].help


PAIRS = st.sets(
    st.tuples(st.integers(0, 7), st.integers(0, 7)).filter(lambda p: p[0] < p[1]).map(frozenset),
    max_size=3,
).map(frozenset)


@given(st.integers(1, 8), st.integers(1, 4), PAIRS, PAIRS)
def test_everybody_has_one_place_and_all_that_is_asked_holds(
    players: int, count: int, together: frozenset, apart: frozenset
) -> None:
    group_of = tuple(range(players))
    together = frozenset(pair for pair in together if max(pair) < players)
    apart = frozenset(pair for pair in apart if max(pair) < players)
    found = parted(group_of, count, together, apart)
    if found is None:
        assert together | apart
        return
    assert [len(part) for part in found] == [len(part) for part in shares(group_of, count)]
    assert sorted(player for part in found for player in part) == list(group_of)
    where = {p: (part, turn) for part, ps in enumerate(found) for turn, p in enumerate(ps)}
    for one, other in map(tuple, together):
        assert where[one][1] == where[other][1]
        assert where[one][0] != where[other][0]
    for one, other in map(tuple, apart):
        assert where[one][1] != where[other][1]
    if not together | apart:
        assert found == shares(group_of, count)
