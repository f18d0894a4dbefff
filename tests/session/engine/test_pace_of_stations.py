"""Stations of unlike beats: a ball that a launcher has queued far ahead holds no other station up,
and another pace never brings a ball sooner than the slower of the two paces has it."""

from __future__ import annotations

from itertools import pairwise

import anyio
import pytest

from feedscript.plan.model import Plan, Repeat, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import say, see_balls
from tests.session.engine.test_lanes import fork
from tests.session.rehearsing import Run, lesson_plan, rehearse

SLOW_S, QUICK_S = 25.0, 6.0


def unlike_beats() -> Plan:
    """Two balls of the slow station are queued while the quick one has sent two."""
    slow = (Repeat(times=6, body=(send(0, SLOW_S),), line=5),)
    quick = (Repeat(times=20, body=(send(2, QUICK_S),), line=6),)
    shows = (ShowSpeed(feed=0, line=1), ShowSpeed(feed=2, line=1))
    return lesson_plan(*shows, fork(slow, quick), launchers=2)


def gaps_s(run: Run, launcher: int) -> list[float]:
    """Between the balls that players get there."""
    balls = [ball for ball in run.left() if ball["launcher"] == launcher and not ball["shown"]]
    times_s = [float(str(ball["left_utc_s"])) for ball in balls]
    return [after - before for before, after in pairwise(times_s)]


def test_each_station_keeps_its_own_beat() -> None:
    run = rehearse(unlike_beats())
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert gaps_s(run, 0) == pytest.approx([SLOW_S] * 5, abs=0.01)
    assert gaps_s(run, 1) == pytest.approx([QUICK_S] * 19, abs=0.01)


@pytest.mark.parametrize(
    ("act", "times"),
    [
        (Act.SLOWER, 1),
        (Act.SLOWER, 2),
        (Act.SLOWER, 3),
        (Act.FASTER, 1),
        (Act.FASTER, 2),
    ],
)
@pytest.mark.parametrize("apart_s", [0.5, 8.0])
def test_no_ball_comes_sooner_than_both_paces_have_it(act: Act, times: int, apart_s: float) -> None:
    paces = [1.0]

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 6)
        for _ in range(times):
            await anyio.sleep(apart_s)
            await say(engine, act)
            paces.append(100.0 / engine.view.pace_percent)

    run = rehearse(unlike_beats(), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    for launcher, beat_s in enumerate((SLOW_S, QUICK_S)):
        found = gaps_s(run, launcher)
        assert min(found) > beat_s * min(paces) * 0.995 - 0.01
        assert max(found) < beat_s * max(paces) * 1.005 + 0.01
        assert found[-1] == pytest.approx(beat_s * paces[-1], rel=0.01)
