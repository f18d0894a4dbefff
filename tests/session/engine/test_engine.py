"""The engine on the stand-in: the sequence, the times, and what it refuses."""

from __future__ import annotations

import anyio
import pytest

from feedscript.launcher.port import LinkLost
from feedscript.launcher.setting import Setting
from feedscript.plan.model import Collect, Plan, Repeat, Say, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phase_words import pause_words
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import rest, send
from tests.session.coach import say, see_phase
from tests.session.rehearsing import OpenFences, Rig, lesson_plan, rehearse

SHOW = ShowSpeed(feed=0, line=1)
_CALLS = "SELECT data ->> 'text' AS text FROM entry WHERE kind = 'call'"


def test_a_whole_lesson_runs_to_its_end() -> None:
    body = (send(0, 4.0), send(1, 4.0))
    run = rehearse(lesson_plan(SHOW, Repeat(times=5, body=body, line=2), Say(text="x", line=3)))
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert [ball["outcome"] for ball in run.balls()] == ["left"] * 11


def test_balls_leave_at_absolute_times() -> None:
    run = rehearse(lesson_plan(SHOW, Repeat(times=30, body=(send(0, 4.0),), line=2)))
    times = [ball["left_device_s"] for ball in run.left()][1:]
    assert len(times) == 30
    for number, left_s in enumerate(times):
        assert left_s == pytest.approx(times[0] + 4.0 * number, abs=0.002)


def test_a_collect_makes_the_launcher_safe_and_is_armed_again() -> None:
    run = rehearse(lesson_plan(SHOW, send(0, 4.0), rest(2.0), Collect(line=2), send(1, 4.0)))
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert run.phases().count("arming") == 2
    assert len(run.left()) == 3


def test_a_break_is_a_collect_whose_time_is_waited_out_on_a_clock_that_counts_down() -> None:
    """The launcher is safe all the while, and a person arms it again afterwards."""
    left_s: list[float] = []
    pause = Collect(words="water", break_s=180.0, line=2)

    async def coach(engine: Engine) -> None:
        view = await see_phase(engine, Phase.COLLECTING)
        while engine.lesson.break_ends_s is None:
            await engine.lesson.changed.wait()
            view = engine.view
        assert (view.phase_words, view.launchers[0].state) == ("Break", "safe")
        assert "Break of 3 min: water." in view.to_group
        assert [c.label for c in view.controls if c.name == "collected"] == ["All back"]
        left_s.append(view.break_s)
        began_s = anyio.current_time()
        await anyio.sleep(60.0)
        left_s.append(engine.view.break_s)
        await see_phase(engine, Phase.SETTING_UP)
        assert anyio.current_time() - began_s == pytest.approx(180.0, abs=0.5)

    run = rehearse(lesson_plan(SHOW, send(0, 4.0), pause, send(1, 4.0)), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert left_s == pytest.approx([180.0, 120.0], abs=0.5)
    assert run.phases().count("arming") == 2


def test_waiting_for_the_coach_has_words_and_no_end_in_time() -> None:
    pause = Collect(words="look at the grip", line=2)

    run = rehearse(lesson_plan(SHOW, send(0, 4.0), pause, send(1, 4.0)))
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert len(run.left()) == 3
    calls = [row["text"] for row in run.journal.rows(_CALLS)]
    assert "look at the grip. The launcher is off." in calls
    assert pause_words(pause.words, pause.break_s).name == "Wait"


def test_a_launcher_that_nobody_armed_in_time_can_be_armed_at_the_next_try() -> None:
    """Waiting ends after 60 s; the coach sets up again, and this time somebody acts. The launcher's
    states come a moment after its replies, as they may: the old one is no answer to the new ask."""
    rig = Rig(events_late_s=0.02)

    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.ARMING)
        rig.stand_ins[0].person.arms = False
        await see_phase(engine, Phase.STOPPED)
        assert anyio.current_time() >= 60.0
        rig.stand_ins[0].person.arms = True
        await say(engine, Act.SET_UP_AGAIN)

    run = rehearse(lesson_plan(SHOW, send(0, 4.0)), coach, rig=rig)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert len(run.left()) == 2


def test_a_link_that_goes_while_nothing_is_asked_is_told_as_such_and_once() -> None:
    async def lose(engine: Engine) -> None:
        while len(engine.lesson.recording.balls) < 3:
            await anyio.sleep(0.1)
        (launcher,) = engine.lesson.launchers
        launcher.linked = False
        for _ in range(2):
            launcher.listener.event_heard(
                launcher, LinkLost(device_s=0.0, detail="gone: unplugged")
            )

    run = rehearse(lesson_plan(SHOW, Repeat(times=9, body=(send(0, 4.0),), line=2)), lose)
    assert run.ending.phase is Phase.BROKEN_OFF
    assert run.ending.cause
    assert [found.slug for found in run.ending.diagnostics] == ["link-lost"]
    assert "unplugged" in run.ending.diagnostics[0].message


def test_a_setting_that_the_certificate_does_not_cover_is_never_asked_for() -> None:
    class OnlyTheFirst(OpenFences):
        def covers(self, plan: Plan, launcher: int, setting: Setting) -> bool:
            return setting == plan.feeds[0].setting

    run = rehearse(lesson_plan(SHOW, send(0, 4.0), send(1, 4.0)), fences=OnlyTheFirst())
    assert run.ending.phase is Phase.BROKEN_OFF
    assert [found.slug for found in run.ending.diagnostics] == ["not-certified"]
    assert {ball["feed_index"] for ball in run.balls()} == {0}
