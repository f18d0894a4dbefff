"""Players who are kept apart stay so: no jump brings the turns of their stations out of step."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.plan.interpreter.actions import Action, Jump, Reply, SendBall, TakeTurn
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan, Rest, ShowSpeed, Station, Together, Turns
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Act
from tests.plan.small_plans import send
from tests.session.coach import say, see_balls
from tests.session.rehearsing import lesson_plan, rehearse

FOUR = tuple(Player(name=name) for name in ("Ash", "Bay", "Cob", "Den"))


def station(name: str, launcher: int, *players: int) -> Station:
    ball = send(2 * launcher, 4.0)
    body = (ball, ball, Rest(seconds=6.0, line=4))
    turns = Turns(slots=2, passes=1, every_s=20.0, body=body, players=players, line=4)
    return Station(name=name, launcher=launcher, players=players, body=(turns,), line=4)


def plan_of(keep_apart: tuple[tuple[str, ...], ...]) -> Plan:
    both = Together(
        stations=(station("west", 0, 0, 1), station("east", 1, 2, 3)), for_s=40.0, line=3
    )
    shown = (ShowSpeed(feed=0, line=1), ShowSpeed(feed=2, line=1))
    plan = lesson_plan(*shown, both, players=FOUR, launchers=2)
    group = msgspec.structs.replace(plan.group, keep_apart=keep_apart)
    return msgspec.structs.replace(plan, group=group)


@pytest.mark.parametrize(("apart", "begins"), [((("Ash", "Den"),), 20.0), ((), 0.0)])
def test_a_turn_left_early_lasts_as_long_where_players_are_kept_apart(
    apart: tuple[tuple[str, ...], ...], begins: float
) -> None:
    left: list[Action] = []

    def answer(action: Action) -> Reply:
        if isinstance(action, SendBall) and action.station == "west" and not left:
            left.append(action)
            return Jump.NEXT
        return None

    turns = [one for one in run_through(plan_of(apart), answer) if isinstance(one, TakeTurn)]
    assert [one.at_s for one in turns if one.station == "west"] == [0.0, begins]


@pytest.mark.parametrize("act", [Act.NEXT, Act.AGAIN])
@pytest.mark.parametrize("apart", [(("Ash", "Den"),), ()])
def test_a_series_at_their_stations_is_neither_left_nor_begun_again(
    act: Act, apart: tuple[tuple[str, ...], ...]
) -> None:
    told: list[str] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        await say(engine, act)
        await see_balls(engine, 5)
        told.extend(one.slug for one in engine.view.troubles)

    run = rehearse(plan_of(apart), coach)
    assert run.ending.finished
    assert ("kept-in-step" in told) == bool(apart)
    as_planned = len(run.left()) == 2 + 8
    assert as_planned == bool(apart)
