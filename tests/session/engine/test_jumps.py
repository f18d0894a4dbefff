"""Next, again and skip make pairs of balls that the plan does not have: each is held to the rules.

Whatever a person presses and when: no ball sooner after the one before than its launcher can
change over or the program allows, none faster than a ball that was watched allows, none that is
not a feed of the plan. Lessons on the stand-in in virtual time.
"""

from __future__ import annotations

from itertools import pairwise

import anyio
import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.change import change_s
from feedscript.launcher.setting import Setting
from feedscript.plan.certificate import Requirement
from feedscript.plan.folds.across import down_s
from feedscript.plan.model import Collect, Plan, Repeat, ShowSpeed, Step
from feedscript.safety.rules import faster_than_shown
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import Answer, SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import rest, send
from tests.session.coach import say, see_balls
from tests.session.engine.test_lanes import fork
from tests.session.rehearsing import GARAGE, Rig, Run, lesson_plan, rehearse

ALIKE, FAST = 1, 2  # beside feed 0: one like it, and one faster whose wheels take 2 s more
LEAST_S = 2.5  # what the program asks for; the launcher itself could do 1.8 s


def plan_of(*steps: Step) -> Plan:
    """Three feeds of one launcher; gaps so short that only the rests between make them good."""
    plan = lesson_plan(*steps)
    fast = msgspec.structs.replace(
        plan.feeds[0],
        name="c",
        wish="c",
        speed_mps=28.0,
        setting=Setting(drives=(3900.0, 3400.0), pan_deg=15.0, tilt_deg=3.0),
    )
    return msgspec.structs.replace(
        plan,
        feeds=(*plan.feeds, fast),
        requirements=(Requirement(rule="least-interval", value=LEAST_S, line=1),),
    )


PLAN = plan_of(
    ShowSpeed(feed=0, line=1),
    Repeat(times=3, body=(rest(6.0), send(0, 0.5), rest(6.0), send(ALIKE, 0.5)), line=2),
    Repeat(
        times=2,
        body=(send(0, 3.0), rest(4.0), ShowSpeed(feed=FAST, line=4), send(FAST, 3.0)),
        line=3,
    ),
    Repeat(times=3, body=(rest(6.0), send(FAST, 0.5), rest(6.0), send(0, 0.5)), line=5),
    Collect(line=6),
    Repeat(times=2, body=(rest(6.0), send(0, 0.2), rest(5.0), send(FAST, 0.2)), line=7),
)

JUMPS = st.lists(
    st.tuples(st.floats(0.0, 9.0), st.sampled_from([Act.NEXT, Act.AGAIN, Act.SKIP])), max_size=12
)


def jumping(jumps: list[tuple[float, Act]]) -> Run:
    """The lesson under these jumps, each so long after the one before or as soon as it may be;
    held before a ball whose speed nobody watched, the coach ends it."""

    async def jump(engine: Engine) -> None:
        for wait_s, act in jumps:
            await anyio.sleep(wait_s)
            async for state in engine.views():
                if state.phase is Phase.RUNNING:
                    await engine.command(SimpleCommand(act=act))
                    break

    async def coach(engine: Engine) -> None:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(jump, engine)
            async for state in engine.views():
                if state.phase is Phase.HELD:
                    await engine.command(SimpleCommand(act=Act.QUIT))
                elif state.phase is Phase.STOPPED:
                    await engine.command(SimpleCommand(act=Act.SET_UP_AGAIN))
                for ball in state.asked_about:  # the gate was open as the jump came: look
                    left = ball.feed_id in {b.feed_id for b in rig.stand_ins[0].departures}
                    await engine.command(Answer(feed_id=ball.feed_id, left=left))

    rig = Rig()
    return rehearse(PLAN, coach, rig=rig)


def hold_to_the_rules(run: Run) -> None:
    """Over the balls that the stand-in really threw."""
    left = run.left()
    shown_mps = 0.0
    for ball in left:
        feed = PLAN.feeds[int(str(ball["feed_index"]))]
        if ball["shown"]:
            shown_mps = max(shown_mps, feed.speed_mps)
        assert feed.speed_mps <= shown_mps + faster_than_shown.LIMIT.default
    for before, after in pairwise(left):
        gap_s = float(str(after["left_device_s"])) - float(str(before["left_device_s"]))
        one, other = (PLAN.feeds[int(str(b["feed_index"]))] for b in (before, after))
        needs_s = max(change_s(GARAGE, one.setting, other.setting), LEAST_S)
        assert gap_s >= needs_s - 0.002, f"{one.name} to {other.name}: {gap_s:.3f} s"


@settings(max_examples=5)
@given(JUMPS)
def test_no_jump_makes_a_pair_or_a_speed_that_the_rules_forbid(
    jumps: list[tuple[float, Act]],
) -> None:
    hold_to_the_rules(jumping(jumps))


@pytest.mark.long
@settings(max_examples=400)
@given(JUMPS)
def test_no_jump_of_four_hundred_lessons_does(jumps: list[tuple[float, Act]]) -> None:
    hold_to_the_rules(jumping(jumps))


def test_a_rest_that_is_skipped_does_not_bring_the_next_ball_too_soon() -> None:
    """Without the rest the ball stands half a second after the one before."""

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 2)
        await anyio.sleep(0.3)
        await say(engine, Act.SKIP)
        await see_balls(engine, 3)
        await say(engine, Act.QUIT)

    run = rehearse(PLAN, coach)
    hold_to_the_rules(run)
    second, third = (float(str(b["left_device_s"])) for b in run.left()[1:3])
    assert third - second == pytest.approx(LEAST_S, abs=0.01)


def test_a_feed_whose_watched_ball_was_jumped_over_is_not_sent() -> None:
    told: list[Diagnostic] = []
    run = jumping([(9.0, Act.NEXT), (3.0, Act.NEXT), (3.0, Act.NEXT), (1.0, Act.NEXT)])
    told.extend(run.ending.diagnostics)
    hold_to_the_rules(run)
    assert "c" not in {b["feed"] for b in run.left()}
    assert "not-shown" in {one.slug for one in told}


# -- from launcher to launcher ------------------------------------------------------------------


def test_a_rest_that_is_skipped_does_not_bring_another_launchers_ball_across_one_that_flies() -> (
    None
):
    """The plan has eight seconds between them, and nobody judged whether their ways cross."""
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        ShowSpeed(feed=2, line=1),
        send(0, 4.0),
        rest(8.0),
        fork((), (send(2, 0.1),)),
        launchers=2,
    )

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        await say(engine, Act.SKIP)
        await see_balls(engine, 4)
        await say(engine, Act.QUIT)

    first, second = (float(str(b["left_utc_s"])) for b in rehearse(plan, coach).left()[2:])
    assert second - first == pytest.approx(down_s(plan.feeds[0]), abs=0.02)
