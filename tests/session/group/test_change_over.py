"""Who is next is called when the last ball has come down, and has time to come on.

Lessons on the stand-in in virtual time; what was called when stands in the journal, when balls
left is the stand-in's own clock.
"""

from __future__ import annotations

from itertools import pairwise

import msgspec
import pytest

from feedscript.plan.certificate import Waiver
from feedscript.plan.model import Condition, Plan, Repeat, Result, ShowSpeed, Step, Turns, Until
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import rest, send
from tests.session.coach import say, see_balls
from tests.session.rehearsing import Run, lesson_plan, rehearse

GROUP = tuple(Player(name=name) for name in ("Ash", "Bay", "Cob"))
FLIGHT_S = 1.1  # of every ball of these plans
LEAST_S = 4.0 / 1.2 + 2.5  # a group of which nothing is said


def turns(*body: Step, every_s: float | None = None) -> Plan:
    show = ShowSpeed(feed=0, line=1)
    return lesson_plan(
        show, Turns(slots=3, passes=1, body=body, every_s=every_s, line=2), players=GROUP
    )


def calls(run: Run) -> list[tuple[str, float]]:
    rows = run.journal.rows(
        "SELECT utc_s, data ->> 'text' AS text FROM entry WHERE kind = 'call' ORDER BY id"
    )
    return [(str(row["text"]), float(row["utc_s"])) for row in rows]


def balls(run: Run) -> list[tuple[str, float]]:
    return [
        (str(ball["player"]), float(str(ball["left_utc_s"])))
        for ball in run.left()
        if not ball["shown"]
    ]


def change_overs(run: Run) -> list[tuple[float, float]]:
    """After each change of player: from the last ball to the call, from the call to the first."""
    said = {text.partition(" ")[0]: at_s for text, at_s in calls(run)}
    found = []
    fed = balls(run)
    for (before, left_s), (after, first_s) in pairwise(fed):
        if before != after:
            found.append((said[after] - left_s, first_s - said[after]))
    return found


@pytest.mark.parametrize(
    "plan",
    [
        turns(send(0, 4.0), send(1, 4.0), rest(9.0)),
        turns(send(0, 8.0), send(1, 4.0)),
        turns(send(0, 4.0), send(1, 4.0), every_s=20.0),
    ],
    ids=["a rest at the end of the turn", "a longer first gap", "turns on the clock"],
)
def test_the_call_comes_when_the_last_ball_has_come_down(plan: Plan) -> None:
    run = rehearse(plan)
    assert [text for text, _ in calls(run)] == ["Ash is on", "Bay is on", "Cob is on"]
    found = change_overs(run)
    assert [after_s for after_s, _ in found] == pytest.approx([FLIGHT_S] * 2, abs=0.02)
    assert all(time_s >= LEAST_S for _, time_s in found)


def test_where_the_record_is_asked_first_the_call_waits_for_the_answer_and_not_for_the_rest() -> (
    None
):
    two_in = Condition(results=(Result.IN,), at_least=2, window=2)
    asked = Until(condition=two_in, at_most=3, body=(send(0, 5.0),), line=3)
    run = rehearse(turns(asked, rest(9.0)))
    assert all(FLIGHT_S - 0.02 <= after_s <= FLIGHT_S + 2.52 for after_s, _ in change_overs(run))
    assert len(change_overs(run)) == 2


def test_after_a_jump_the_next_player_still_has_the_time() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        await say(engine, Act.NEXT)
        await see_balls(engine, 5)
        await say(engine, Act.NEXT)

    plan = turns(rest(6.0), *(send(0, 3.0) for _ in range(5)))
    run = rehearse(plan, coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert len(change_overs(run)) == 2
    assert all(time_s >= LEAST_S - 0.01 for _, time_s in change_overs(run))


def test_a_slower_player_who_comes_later_has_the_time_too() -> None:
    show, turn = ShowSpeed(feed=0, line=1), Turns(slots=9, passes=1, body=(send(0, 3.0),), line=2)
    plan = lesson_plan(show, turn, players=GROUP)
    quick = msgspec.structs.replace(plan, group=msgspec.structs.replace(plan.group, level="county"))
    joins = ChangeRoster(change=RosterChange.JOIN, player="Elm", level="beginner")

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 2)
        assert await engine.command(joins) is None

    alone, joined = rehearse(quick), rehearse(quick, coach)
    assert min(gaps_s(alone)) < LEAST_S
    assert "Elm" in {player for player, _ in balls(joined)}
    assert min(gaps_s(joined)[1:]) >= LEAST_S - 0.01


def gaps_s(run: Run) -> list[float]:
    """From ball to ball, each of another player, who was called not before the last one left."""
    return [after_s - before_s for (_, before_s), (_, after_s) in pairwise(balls(run))]


def test_a_program_that_sets_the_rule_aside_is_not_held_up() -> None:
    waiver = Waiver(rule="short-change-over", because="they stand ready in a line", line=1)
    plan = turns(send(0, 3.0))
    ready = rehearse(_with(plan, waiver))
    assert [time_s for _, time_s in change_overs(ready)] == pytest.approx(
        [3.0 - FLIGHT_S] * 2, abs=0.02
    )
    late = rehearse(plan)
    assert all(time_s >= LEAST_S - 0.01 for _, time_s in change_overs(late))


def _with(plan: Plan, waiver: Waiver) -> Plan:
    return msgspec.structs.replace(plan, waivers=(waiver,))


def test_whoever_is_first_after_go_on_stands_ready() -> None:
    run = rehearse(turns(Repeat(times=2, body=(send(0, 4.0),), line=3), rest(9.0)))
    (_, called_s), (_, first_s) = calls(run)[0], balls(run)[0]
    assert first_s - called_s == pytest.approx(4.0, abs=0.35)
