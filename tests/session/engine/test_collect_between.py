"""Between the rounds of stations every launcher is off until a person arms it again, and all begin
the next round at the same time. The lesson is written in the language and conducted on stand-ins,
in virtual time."""

from __future__ import annotations

import anyio
import pytest

from feedscript.launcher.port import LauncherState
from feedscript.plan.model import Collect, Plan
from feedscript.session.engine.engine import Engine
from feedscript.session.operator import auto_operator
from feedscript.session.operator.auto_operator import Taps, says
from feedscript.session.operator.commands import Command
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import Asks
from tests.plan.test_stations_without_launcher import EAST, WEST, plan_of, text_of
from tests.session.coach import say, see_phase
from tests.session.rehearsing import Rig, Run, rehearse

EVERY = "1 min"
#: By hand: of a part of two each has 30 s, a pass of 3 balls and the rest takes 24 s, of 2 balls
#: and the rest 21 s. So one pass each, in each of two rounds; and one ball was shown.
OF_WEST, OF_EAST = 1 + 2 * 2 * 3, 1 + 2 * 2 * 2


def lesson() -> Plan:
    return plan_of(text_of(4, [WEST, EAST], every=EVERY, between=", collect between"))


def sent(run: Run) -> list[int]:
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    return [sum(ball["launcher"] == number for ball in run.left()) for number in (0, 1)]


def collects_by_hand(view: Asks, taps: Taps | None) -> Command | None:
    """The person who says yes, and leaves the collecting to somebody else."""
    return None if view.phase is Phase.COLLECTING else says(view, taps)


def test_no_launcher_is_armed_between_the_rounds_until_a_person_arms(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(auto_operator, "says", collects_by_hand)
    rig = Rig()
    seen: list[tuple[list[LauncherState], int]] = []

    async def coach(engine: Engine) -> None:
        """Long at the collect: nothing may happen meanwhile."""
        await see_phase(engine, Phase.COLLECTING)
        for _ in range(30):
            states = [one.end.machine.state for one in rig.stand_ins]
            seen.append((states, sum(len(one.departures) for one in rig.stand_ins)))
            await anyio.sleep(1.0)
        await say(engine, Act.COLLECTED)

    run = rehearse(lesson(), coach, rig=rig)
    assert sent(run) == [OF_WEST, OF_EAST]
    assert len(seen) == 30
    before = (OF_WEST - 1) // 2 + (OF_EAST - 1) // 2 + 2
    for states, balls in seen:
        assert states == [LauncherState.SAFE] * 2
        assert balls == before


def test_the_next_round_begins_at_the_same_time_for_all() -> None:
    run = rehearse(lesson())
    assert sent(run) == [OF_WEST, OF_EAST]
    first = [
        [float(str(one["left_utc_s"])) for one in run.left() if one["launcher"] == number]
        for number in (0, 1)
    ]
    west, east = first[0][1 + 6], first[1][1 + 4]
    # Their first balls are due 5 s and 6 s after the round has begun.
    assert west - 5.0 == pytest.approx(east - 6.0, abs=0.05)


def test_without_the_words_they_play_on() -> None:
    plan = plan_of(text_of(4, [WEST, EAST], every=EVERY))
    assert not any(isinstance(step, Collect) for step in plan.steps)
    run = rehearse(plan)
    assert sent(run) == [OF_WEST, OF_EAST]
    assert "collecting" not in run.phases()
