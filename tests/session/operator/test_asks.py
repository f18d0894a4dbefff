"""What a lesson is asked for again and again is made without the rest, and no oftener than need be:
what it asks of a person, which is a part of the view, and its balls and records."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.check.check_program import check_program
from feedscript.plan.model import Collect, Result, ShowSpeed
from feedscript.session.engine import engine as engine_module
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.group.recording import Recording
from feedscript.session.operator.commands import RecordResult
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import Asks, LessonView
from feedscript.session.rehearsal.rehearse import rehearse as rehearse_program
from feedscript.shipped import program_path
from tests.plan.small_plans import send
from tests.session.rehearsing import lesson_plan, rehearse


def test_at_every_change_it_is_what_the_view_shows() -> None:
    seen: list[Phase] = []

    async def watch(engine: Engine) -> None:
        async for _change in engine.changes():
            asks, view = engine.asks, engine.view
            assert msgspec.structs.asdict(asks) == {
                name: getattr(view, name) for name in Asks.__struct_fields__
            }
            seen.append(asks.phase)

    show = ShowSpeed(feed=0, line=1)
    rehearse(lesson_plan(show, send(0, 4.0), Collect(line=2, break_s=60.0), send(1, 4.0)), watch)
    assert {Phase.SETTING_UP, Phase.COLLECTING, Phase.FINISHED} <= set(seen)


def test_a_rehearsal_that_nobody_watches_makes_no_view(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_view(_lesson: LiveRun) -> LessonView:
        raise AssertionError("nobody looks at it")

    monkeypatch.setattr(engine_module, "view_of", no_view)
    verdict = check_program(program_path("thursday-juniors", None))
    assert verdict.plan is not None
    run = rehearse_program(verdict.plan, verdict.profiles, "invented.feed", results=True)
    assert run.ending.finished


def test_balls_and_records_are_put_together_once_for_every_change_of_them() -> None:
    made: list[Recording] = []

    async def watch(engine: Engine) -> None:
        lesson = engine.lesson
        async for _change in engine.changes():
            now = lesson.recording
            assert now is lesson.recording
            assert now.balls == tuple(lesson.state.left.values())
            assert now.records == tuple(lesson.state.records.values())
            assert now.offer is lesson.offers.offer
            if not made or made[-1] is not now:
                made.append(now)
            if now.balls and not now.records:
                command = RecordResult(result=Result.IN, feed_id=now.balls[0].feed_id)
                assert await engine.command(command) is None

    rehearse(lesson_plan(ShowSpeed(feed=0, line=1), *(send(0, 4.0) for _ in range(5))), watch)
    assert [len(one.balls) for one in made if not one.records] == [0, 1]
    assert [len(one.balls) for one in made if one.records] == [1, 2, 3, 4, 5, 6]
