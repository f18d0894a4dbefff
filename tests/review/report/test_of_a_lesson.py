"""What the engine wrote down of a conducted lesson is what the review tells of it."""

from __future__ import annotations

import io
import json

import anyio
import pytest
import webvtt

from feedscript.plan.model import Repeat, Result, ShowSpeed
from feedscript.review.report.lesson import read_lesson, series_of, sync_tones_utc_s
from feedscript.review.video.cues import Track, as_webvtt, cues_of
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import MarkLanding, PlayedTone, RecordResult, UndoResult
from tests.plan.small_plans import rest, send
from tests.session.coach import see_balls
from tests.session.rehearsing import lesson_plan, rehearse

TAPS = (Result.IN, Result.NET, Result.NET, Result.LONG, Result.IN, Result.LEFT)
PLACE_M = (1.5, -9.0)


def test_a_review_tells_what_was_tapped_and_marks_what_was_fed() -> None:
    played_utc_s: list[float] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 1)
        played_utc_s.append(engine.lesson.now_utc_s() + 0.07)  # still on its way out
        assert await engine.command(PlayedTone(ago_s=-0.07)) is None
        for number, result in enumerate(TAPS, start=2):
            await see_balls(engine, number)
            await anyio.sleep(2.5)
            assert await engine.command(RecordResult(result=result)) is None
            if result is Result.IN:
                assert await engine.command(MarkLanding(landing_m=PLACE_M)) is None
        assert await engine.command(UndoResult()) is None

    three = Repeat(times=3, body=(send(0, 4.0),), line=2)
    run = rehearse(lesson_plan(ShowSpeed(feed=0, line=1), three, rest(30.0), three), coach)
    lesson = read_lesson(run.journal)
    assert [ball.shown for ball in lesson.balls] == [True] + [False] * 6
    assert [ball.result for ball in lesson.played] == [*TAPS[:-1], None]
    assert [ball.landing_m for ball in lesson.played] == [
        PLACE_M if result is Result.IN else None for result in TAPS
    ]
    assert [len(run) for run in series_of(lesson.balls)] == [1, 3, 3]
    assert sync_tones_utc_s(run.journal, lesson) == pytest.approx(played_utc_s, abs=1e-3)

    start_utc_s = played_utc_s[0] - 5.0  # the tone is heard 5 s into the video
    text = as_webvtt("Lesson", cues_of(lesson, start_utc_s, Track.METADATA), metadata=True)
    captions = webvtt.from_buffer(io.StringIO(text)).captions
    in_video = [json.loads(caption.text)["left_s"] for caption in captions]
    left = [float(str(ball["left_utc_s"])) - start_utc_s for ball in run.left()]
    assert in_video == pytest.approx(left, abs=0.050)
    run.journal.close()
