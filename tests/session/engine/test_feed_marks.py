"""In a lesson that measures a person says where each ball came down, and may think again."""

from __future__ import annotations

import anyio

from feedscript.diagnostics import Diagnostic
from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.engine import LATE_TAPS_S, Engine
from feedscript.session.operator.commands import MarkFeed, SeenBy
from feedscript.session.operator.controls import Area
from feedscript.session.operator.phases import Phase
from feedscript.session.state.event_log import read_state
from tests.plan.small_plans import send
from tests.session.coach import see_phase
from tests.session.rehearsing import lesson_plan, rehearse

PLAN = lesson_plan(ShowSpeed(feed=0, line=1), Repeat(times=2, body=(send(0, 4.0),), line=2))


def test_each_ball_is_marked_and_marked_anew_and_the_journal_has_it() -> None:
    refused: list[str] = []

    async def tell(engine: Engine, mark: MarkFeed) -> None:
        told = await engine.command(mark)
        if isinstance(told, Diagnostic):
            refused.append(told.slug)

    async def person(engine: Engine) -> None:
        engine.lesson.measures = True
        await see_phase(engine, Phase.FINISHED)
        await anyio.sleep(1.0)
        assert not [c for c in engine.view.controls if c.area is Area.PAD and (c.shown or c.keys)]
        await tell(engine, MarkFeed(feed_id=1, seen_by=SeenBy.NOBODY))
        await tell(engine, MarkFeed(feed_id=2, seen_by=SeenBy.EYE, landing_m=(1.0, 9.0)))
        await tell(engine, MarkFeed(feed_id=2, seen_by=SeenBy.TAPE, landing_m=(0.8, 9.25)))
        await tell(engine, MarkFeed(feed_id=9, seen_by=SeenBy.EYE, landing_m=(1.0, 9.0)))
        await tell(engine, MarkFeed(feed_id=3, seen_by=SeenBy.EYE))
        await tell(engine, MarkFeed(feed_id=3, seen_by=SeenBy.FILM, landing_m=(1.0, 9.0)))
        await tell(engine, MarkFeed(feed_id=3, seen_by=SeenBy.EYE, landing_m=(float("nan"), 9.0)))
        fed = engine.view.private.fed
        assert fed is not None
        assert [(b.feed_id, b.seen_by) for b in fed] == [(3, None), (2, "tape"), (1, "nobody")]
        engine.lesson.measures = False
        await tell(engine, MarkFeed(feed_id=3, seen_by=SeenBy.FILM))
        assert engine.view.private.fed is None

    run = rehearse(PLAN, person, late_taps_s=LATE_TAPS_S)
    assert refused == ["no-ball-waits", "not-now", "not-now", "off-the-picture", "not-now"]
    marks = read_state(run.journal, 1, PLAN).marks
    assert {n: (m.seen_by, m.landing_m) for n, m in marks.items()} == {
        1: (SeenBy.NOBODY, None),
        2: (SeenBy.TAPE, (0.8, 9.25)),
    }
