"""Turns that only some have, when the group changes while the lesson runs."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.plan.interpreter.actions import Jump, OnTurn, TakeTurn
from feedscript.plan.model import Plan, Turns
from feedscript.plan.scene import Player
from feedscript.safety.changed_group import Changed, most_balls_of_each, plan_for
from feedscript.session.group.roster import Roster, roster_of
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.session.state.lanes import MAIN
from feedscript.session.state.plan_cursor import begin
from tests.plan.small_plans import send
from tests.session.rehearsing import lesson_plan

NAMES = "ABCD"
PEOPLE = tuple(Player(name=name) for name in NAMES)


def turns(*players: int, named: bool, balls: int = 1) -> Turns:
    return Turns(
        slots=len(players),
        passes=1,
        body=(send(0),) * balls,
        players=players,
        named=named,
        line=6,
    )


EVERYBODYS = Turns(slots=4, passes=1, body=(send(0),), line=7)


def lesson(*steps: Turns) -> Plan:
    return lesson_plan(*steps, players=PEOPLE)


def played(plan: Plan, changes: dict[int, ChangeRoster]) -> tuple[list[str], Roster]:
    """Who is on, turn by turn, where these changes come before the turn of that number."""
    roster, course, on = roster_of(plan.group, 1), begin(plan), []
    number = 0
    while (action := course.action(MAIN)) is not None:
        reply = None
        if isinstance(action, TakeTurn):
            if number in changes:
                changed = roster.change(changes[number])
                assert isinstance(changed, Roster)
                roster = changed
            number += 1
            place = (MAIN, course.number(MAIN))
            reply = roster.turn(place, action, [""])
            if isinstance(reply, OnTurn):
                own = action.players is not None
                roster = roster.given(place, reply.player, 0, action.slot, own=own)
                on.append(roster.players[reply.player].name)
        assert reply is None or isinstance(reply, OnTurn) or reply in (Jump.SKIP, Jump.NEXT)
        course.reply(MAIN, reply)
    return on, roster


def leaves(name: str) -> ChangeRoster:
    return ChangeRoster(change=RosterChange.LEAVE, player=name)


def comes(name: str) -> ChangeRoster:
    return ChangeRoster(change=RosterChange.JOIN, player=name)


def test_whoever_is_out_is_skipped_and_a_late_comer_has_no_turn_by_name() -> None:
    plan = lesson(turns(0, 2, named=True), turns(1, 2, named=True), EVERYBODYS)
    assert played(plan, {})[0] == list("ACBCABCD")
    assert played(plan, {1: leaves("C")})[0][:2] == ["A", "B"]
    on, _ = played(plan, {0: comes("Z")})
    assert on[:4] == list("ACBC")
    assert "Z" not in on[:4]


def test_turns_by_name_cost_nobody_a_turn_of_everybodys() -> None:
    """A had three turns by name; when D has gone, each of the others still has one of these."""
    plan = lesson(*[turns(0, named=True)] * 3, EVERYBODYS)
    on, _ = played(plan, {3: leaves("D")})
    assert sorted(on[3:]) == list("ABC")


def test_a_late_comer_has_a_turn_where_only_some_are_left_out() -> None:
    plan = lesson(turns(1, 2, 3, named=False))
    assert played(plan, {})[0] == list("BCD")
    swapped = {0: leaves("B"), 1: comes("Z")}
    assert played(plan, swapped)[0] == list("CDZ")


CHANGES = st.dictionaries(
    st.integers(0, 12), st.sampled_from([*map(leaves, NAMES), comes("Y"), comes("Z")]), max_size=4
)
STEPS = st.lists(
    st.one_of(
        st.just(EVERYBODYS),
        st.builds(
            lambda who, named, balls: turns(*sorted(who), named=named, balls=balls),
            st.sets(st.integers(0, 3), min_size=1),
            st.booleans(),
            st.integers(1, 3),
        ),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=150, deadline=None)
@given(STEPS, CHANGES)
def test_only_those_who_may_have_a_turn_have_it_and_once(steps, changes) -> None:
    plan = lesson(*steps)
    roster, course, number = roster_of(plan.group, 1), begin(plan), 0
    had: dict[tuple[int, str], int] = {}
    while (action := course.action(MAIN)) is not None:
        reply = None
        if isinstance(action, TakeTurn):
            changed = roster.change(changes[number]) if number in changes else roster
            roster = changed if isinstance(changed, Roster) else roster
            number += 1
            place = (MAIN, course.number(MAIN))
            reply = roster.turn(place, action, [""])
            if isinstance(reply, OnTurn):
                who = roster.players[reply.player].name
                assert who in roster.here
                roster = roster.given(
                    place, reply.player, 0, action.slot, own=action.players is not None
                )
                if action.players is not None:
                    allowed = {NAMES[one] for one in action.players}
                    late = set() if action.named else set("YZ")
                    assert who in allowed | late
                    key = course.step, who
                    had[key] = had.get(key, 0) + 1
                    assert had[key] == 1
        course.reply(MAIN, reply)


def test_balls_to_come_are_those_of_each_players_own_turns() -> None:
    """A has 5 by name, B, C and D 2 each; nobody has both."""
    plan = lesson(turns(0, named=True, balls=5), turns(1, 2, 3, named=False, balls=2))
    assert max(most_balls_of_each(plan, Changed(players=PEOPLE, had={}))) == 5
    late = Changed(players=(*PEOPLE[1:], Player(name="Z")), had={"Z": 1})
    other = plan_for(plan, late)
    first, second = other.steps
    assert isinstance(first, Turns)
    assert isinstance(second, Turns)
    assert first.players == ()
    assert second.players == (0, 1, 2, 3)
    assert max(most_balls_of_each(other, late)) == 3
