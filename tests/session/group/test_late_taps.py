"""The last balls can be recorded after the plan has ended, and landings beside any result."""

from __future__ import annotations

import anyio
import pytest

from feedscript.diagnostics import Diagnostic
from feedscript.journal.stored import LANDING_MOST_M
from feedscript.launcher.port import LauncherState
from feedscript.plan.model import Repeat, Result, ShowSpeed
from feedscript.session.engine.engine import LATE_TAPS_S, Engine
from feedscript.session.group.recording import Recording
from feedscript.session.group.records import FlownBall, Record
from feedscript.session.operator.commands import MarkLanding, RecordResult, UndoResult
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import refused, say, see, see_phase
from tests.session.rehearsing import Run, lesson_plan, rehearse

PLAN = lesson_plan(ShowSpeed(feed=0, line=1), Repeat(times=3, body=(send(0, 4.0),), line=2))


def made(run: Run) -> list[str]:
    rows = run.journal.rows("SELECT result FROM result WHERE taken_back = 0 ORDER BY feed_id")
    return [row["result"] for row in rows]


def test_the_last_ball_is_recorded_after_the_end() -> None:
    ends = []

    async def coach(engine: Engine) -> None:
        state = await see_phase(engine, Phase.FINISHED)
        assert "still to be recorded" in state.waits_for
        assert state.launchers[0].state in (LauncherState.STOPPING, LauncherState.SAFE)
        assert await refused(engine, Act.GO_ON) == "not-now"
        for result in (Result.IN, Result.NET, Result.LONG):
            await anyio.sleep(LATE_TAPS_S / 8)
            await engine.command(RecordResult(result=result))
        ends.append(anyio.current_time())

    run = rehearse(PLAN, coach, late_taps_s=LATE_TAPS_S)
    assert run.ending.finished
    # The newest unrecorded ball first, then the oldest of those that are still remembered.
    assert made(run) == ["net", "long", "in"]
    (session,) = run.journal.rows("SELECT ending FROM session")
    assert session["ending"] == "finished"


def test_a_person_ends_the_waiting() -> None:
    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.FINISHED)
        assert engine.view.allowed == (Act.QUIT,)
        await say(engine, Act.QUIT)
        await see(engine, lambda state: state.ending is not None)
        assert engine.view.waits_for == ""

    assert rehearse(PLAN, coach, late_taps_s=1e5).ending.finished


def test_after_a_quit_nobody_waits() -> None:
    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.RUNNING)
        await say(engine, Act.QUIT)

    run = rehearse(PLAN, coach, late_taps_s=1e5)
    assert run.ending.phase is Phase.BROKEN_OFF


def test_a_landing_is_marked_beside_the_result_and_goes_with_it() -> None:
    async def coach(engine: Engine) -> None:
        await see_phase(engine, Phase.FINISHED)
        await anyio.sleep(3.0)
        early = await engine.command(MarkLanding(landing_m=(1.0, -9.0)))
        assert isinstance(early, Diagnostic)  # no result yet
        await engine.command(RecordResult(result=Result.LONG))
        assert engine.view.private.last_record is not None
        assert await engine.command(MarkLanding(landing_m=(1.0, -13.0))) is None
        assert await engine.command(MarkLanding(landing_m=(1.5, -12.5), feed_id=4)) is None
        (marked,) = engine.view.private.landings
        assert (marked.landing_m, marked.result) == ((1.5, -12.5), Result.LONG)
        await engine.command(RecordResult(result=Result.IN, feed_id=3))
        await engine.command(MarkLanding(landing_m=(0.0, -3.0)))
        await engine.command(UndoResult())
        assert len(engine.view.private.landings) == 1

    run = rehearse(PLAN, coach, late_taps_s=LATE_TAPS_S)
    rows = run.journal.rows(
        "SELECT feed_id, result, landing_x_m, landing_y_m FROM result WHERE taken_back = 0"
    )
    assert [tuple(row) for row in rows] == [(4, "long", 1.5, -12.5)]


@pytest.mark.parametrize("landing_m", [(LANDING_MOST_M, 1.0), (float("nan"), 0.0), (0.0, 1e300)])
def test_a_landing_that_is_no_place_on_court_is_refused(landing_m: tuple[float, float]) -> None:
    ball = FlownBall(1, 1, "deep", "A", 3.0, 1.2)
    recording = Recording((ball,), (Record(ball, Result.IN, 6.0),))
    refused = recording.landed(landing_m, None)
    assert isinstance(refused, Diagnostic)
    assert refused.slug == "off-the-picture"
