"""What a person reads of a hold, of trouble that is over, and of the pace."""

from __future__ import annotations

import anyio
import pytest

from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.carry_out import PACES
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import Answer
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import HOLD_ENDS_SOON_S, TROUBLE_SHOWN_S, LessonView, news
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls, see_phase
from tests.session.rehearsing import Rig, lesson_plan, rehearse

PLAN = lesson_plan(
    ShowSpeed(feed=0, line=1),
    ShowSpeed(feed=2, line=1),
    Repeat(times=20, body=(send(0, 4.0), send(2, 4.0)), line=2),
    launchers=2,
)
LIMIT_S = 60.0  # the shipped profile's


def test_a_hold_counts_down_warns_and_says_what_it_became() -> None:
    """Held against the moment at which the launcher itself makes a stop of it."""
    rig, shown = Rig(), list[tuple[float, LessonView]]()
    became_s: list[float] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)
        await say(engine, Act.HOLD)
        state = await see_phase(engine, Phase.HELD)
        while state.phase is Phase.HELD:
            shown.append((anyio.current_time(), state))
            await anyio.sleep(0.5)
            state = engine.view
        became_s.append(anyio.current_time())
        shown.append((anyio.current_time(), await see_phase(engine, Phase.STOPPED)))
        await say(engine, Act.QUIT)

    rehearse(PLAN, coach, rig=rig)
    held, (_, stopped) = shown[:-1], shown[-1]
    assert held[0][1].hold_s == pytest.approx(LIMIT_S, abs=0.5)
    for at_s, state in held:
        assert state.hold_s is not None
        left_s = became_s[0] - at_s
        assert left_s - 1.0 <= state.hold_s <= left_s + 1e-6
        assert "a longer talk wants a stop, or a break" in state.waits_for
        warned = any("becomes a stop in 15 seconds" in call.text for call in state.calls)
        assert warned == (left_s < HOLD_ENDS_SOON_S) or abs(left_s - HOLD_ENDS_SOON_S) < 1.0
    assert stopped.hold_s is None
    assert stopped.calls[-1].text == "The hold has become a stop."
    assert "the hold lasted as long as it may" in news(stopped)[-1].message


def test_a_hold_that_is_ended_in_time_says_nothing_more() -> None:
    """A new hold counts from its own beginning."""
    left_s: list[float | None] = []

    async def coach(engine: Engine) -> None:
        for balls in (4, 6):
            await see_balls(engine, balls)
            await say(engine, Act.HOLD)
            await see_phase(engine, Phase.HELD)
            await anyio.sleep(40.0)
            left_s.append(engine.view.hold_s)
            await say(engine, Act.GO_ON)
            left_s.append((await see_phase(engine, Phase.RUNNING)).hold_s)
        assert not any("hold" in call.text for call in engine.view.calls)
        await say(engine, Act.QUIT)

    rehearse(PLAN, coach)
    assert left_s == [pytest.approx(20.0, abs=0.5), None, pytest.approx(20.0, abs=0.5), None]


def test_a_notice_stays_as_long_as_its_cause_and_no_longer() -> None:
    seen: dict[str, tuple[str, ...]] = {}

    def note(engine: Engine, where: str) -> None:
        seen[where] = tuple(trouble.slug for trouble in news(engine.view))

    async def coach(engine: Engine) -> None:
        await see(engine, lambda s: bool(s.asked_about))
        await anyio.sleep(TROUBLE_SHOWN_S * 3)
        note(engine, "asked")
        await engine.command(Answer(feed_id=engine.view.asked_about[0].feed_id, left=True))
        await see_phase(engine, Phase.STOPPED)
        await anyio.sleep(TROUBLE_SHOWN_S * 3)
        note(engine, "stopped")
        await say(engine, Act.SET_UP_AGAIN)
        await see_phase(engine, Phase.ARMING)
        note(engine, "arming")
        await see_phase(engine, Phase.RUNNING)
        note(engine, "running")
        await say(engine, Act.HOLD)
        await see_phase(engine, Phase.HELD)
        note(engine, "held")
        await say(engine, Act.QUIT)

    rehearse(PLAN, coach, faults=("jam=3",))
    jam = ("launcher-fault",)
    assert seen == {"asked": jam, "stopped": jam, "arming": jam, "running": (), "held": ()}


def test_faster_is_a_larger_number_and_slower_a_smaller_one() -> None:
    read: list[int] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        read.append(engine.view.pace_percent)
        for act in (Act.FASTER, Act.FASTER, *[Act.SLOWER] * (len(PACES) - 1)):
            await say(engine, act)
            read.append(engine.view.pace_percent)
        await say(engine, Act.QUIT)

    rehearse(PLAN, coach)
    assert read[0] == 100
    faster, slower = read[:3], read[2:]
    assert faster == sorted(set(faster))
    assert slower == sorted(set(slower), reverse=True)
    assert len(slower) == len(PACES)
