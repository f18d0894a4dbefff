"""Who answers a lesson looks at what it asks: that part of the view, made without the rest."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.check.check_program import check_program
from feedscript.plan.model import Collect, ShowSpeed
from feedscript.session.engine import engine as engine_module
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.live_run import LiveRun
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
