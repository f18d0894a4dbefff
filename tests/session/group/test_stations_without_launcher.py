"""Who is at which station, one of them without a launcher, while the group changes."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.check.check_program import check_program
from feedscript.plan.interpreter.actions import OnTurn, Reply, StartStations, TakeTurn
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan, Together
from feedscript.session.group.roster import Roster, roster_of
from feedscript.session.group.rotation import Role
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.shipped import program_path
from tests.plan.test_stations_without_launcher import EAST, SHADOW, WEST, plan_of, text_of


@pytest.fixture(scope="module")
def shipped() -> Plan:
    verdict = check_program(program_path("seven-at-three-stations"))
    assert verdict.plan is not None, verdict.diagnostics
    return verdict.plan


def change(kind: RosterChange, name: str) -> ChangeRoster:
    return ChangeRoster(change=kind, player=name)


@cache
def plan_for(players: int) -> Plan:
    return plan_of(text_of(players, [WEST, EAST, SHADOW]))


CHANGES = st.dictionaries(
    st.integers(0, 20),
    st.one_of(
        st.sampled_from("ABCDEFG").map(lambda name: change(RosterChange.LEAVE, name)),
        st.sampled_from("YZ").map(lambda name: change(RosterChange.JOIN, name)),
    ),
    max_size=5,
)


@settings(max_examples=60, deadline=None)
@given(st.integers(3, 7), CHANGES)
def test_nobody_is_called_away_from_where_they_work(players: int, changes) -> None:
    """Whoever is at the station without a launcher has no turn beside it, and whoever has one is
    of the part that is there, or came late."""
    plan = plan_for(players)
    known = [player.name for player in plan.group.players]
    forks = [step for step in plan.steps if isinstance(step, Together)]
    roster, asked, fork = roster_of(plan.group, 2), 0, 0
    on: dict[str, tuple[str, float]] = {}

    def answer(action) -> Reply:
        nonlocal roster, asked, fork
        if isinstance(action, StartStations):  # answered when its stations have ended
            fork += 1
            on.clear()
        if not isinstance(action, TakeTurn):
            return None
        if asked in changes:
            changed = roster.change(changes[asked])
            roster = changed if isinstance(changed, Roster) else roster
        asked += 1
        place = (f"{fork}/{action.station}", asked)
        reply = roster.turn(place, action, ["west", "east"])
        on.pop(action.station, None)
        if isinstance(reply, OnTurn):
            roster = roster.given(place, reply.player, 0, action.slot, own=True)
            name = roster.players[reply.player].name
            assert name in roster.here
            there = next(one for one in forks[fork].stations if one.name == action.station)
            assert name in {known[number] for number in there.players} or name in "YZ"
            # A station whose last turn is over asks for no other: whoever had it is free.
            assert name not in {one for one, until_s in on.values() if until_s > action.at_s}
            on[action.station] = name, action.until_s
        return reply

    list(run_through(plan, answer))


def test_each_screen_has_who_works_where_and_nobody_twice(shipped: Plan) -> None:
    fork = next(step for step in shipped.steps if hasattr(step, "stations"))
    roster = roster_of(shipped.group, 2)
    fence = next(one for one in fork.stations if one.launcher is None)
    alone = {fence.name: roster.here_of(fence.players)}
    roster = roster.begins(("1/drives", 0), "drives", "A")
    places = roster.places(["drives", "volleys", "fence"], alone)
    assert sorted(name for name, *_ in places) == list("ABCDEFG")
    working = {name for name, station, role in places if role is Role.WORKER}
    assert working == set(alone["fence"])
    assert not working & set(roster.waiting(alone["fence"]))


def test_the_ground_where_they_work_is_kept_clear_of_balls(tmp_path: Path) -> None:
    text = program_path("seven-at-three-stations").read_text("utf-8")
    assert "at deuce run-off" in text
    into = tmp_path / "into.feed"
    into.write_text(text.replace("at deuce run-off", "at -2.5 m, 12 m"), "utf-8")
    told = [one for one in check_program(into).diagnostics if one.is_error]
    assert {one.slug for one in told} >= {"into-keep-out"}
    assert any("station fence" in one.message for one in told)


def test_seven_of_two_levels_get_as_many_balls_each_of_their_own_level(shipped: Plan) -> None:
    fed: dict[str, list[str]] = {}
    for action in run_through(shipped, lambda _: None):
        player, feed = getattr(action, "player", None), getattr(action, "feed", None)
        if player is not None and feed is not None:
            fed.setdefault(shipped.group.players[player].name, []).append(shipped.feeds[feed].wish)
    assert {len(balls) for balls in fed.values()} == {12}
    assert {name for name, balls in fed.items() if "hard_drive" in balls} == {"A", "B"}


def test_five_with_subgroups_get_what_the_program_says() -> None:
    verdict = check_program(program_path("five-and-one-launcher"))
    assert verdict.plan is not None, verdict.diagnostics
    plan = verdict.plan
    fed: dict[str, list[str]] = {}
    for action in run_through(plan, lambda _: None):
        player, feed = getattr(action, "player", None), getattr(action, "feed", None)
        if player is not None and feed is not None:
            fed.setdefault(plan.group.players[player].name, []).append(plan.feeds[feed].wish)
    six, eight, four = ["deep"] * 6, ["wide"] * 8, ["deep"] * 4
    assert fed == {
        "Ana": [*six, *eight, *four],
        "Ben": [*six, *four],
        "Cleo": [*six, *four],
        "Dan": ["soft"] * 8,
        "Eva": ["soft"] * 8,
    }
