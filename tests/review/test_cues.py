"""Cue marks line up with the journal and are read by a WebVTT library that is not ours."""

from __future__ import annotations

import io
import json
from itertools import pairwise
from pathlib import Path

import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st

from feedscript.review.cues import LEAD_S, Cue, as_webvtt, ball_cues, chapter_cues
from feedscript.review.lesson import read_lesson
from feedscript.session.journal import open_journal
from tests.review.calendar import PLAYERS, TURNS_EACH

VIDEO_START_LAG_S = 12.5


def test_every_ball_is_marked_within_50_ms_of_the_journal(calendar: Path) -> None:
    journal = open_journal(calendar)
    lesson = read_lesson(journal)
    left = journal.rows(
        "SELECT ball_no, left_utc_s FROM ball WHERE session_id = ? ORDER BY ball_no",
        (lesson.number,),
    )
    journal.close()
    start = lesson.begun_utc_s - VIDEO_START_LAG_S
    text = as_webvtt(lesson.title, ball_cues(lesson, start), metadata=True)
    captions = webvtt.from_buffer(io.StringIO(text)).captions
    assert len(captions) == len(left) == 120
    for caption, row in zip(captions, left, strict=True):
        facts = json.loads(caption.text)
        assert facts["ball"] == row["ball_no"]
        in_video = row["left_utc_s"] - start
        assert facts["left_s"] == pytest.approx(in_video, abs=0.050)
        hours, minutes, seconds, thousandths = caption.start_time.to_tuple()
        start_s = 3600 * hours + 60 * minutes + seconds + thousandths / 1000
        assert start_s + LEAD_S == pytest.approx(in_video, abs=0.050)


def test_there_is_one_chapter_for_each_turn_and_they_do_not_overlap(calendar: Path) -> None:
    journal = open_journal(calendar)
    lesson = read_lesson(journal)
    journal.close()
    text = as_webvtt("Lesson", chapter_cues(lesson, lesson.begun_utc_s), metadata=False)
    captions = webvtt.from_buffer(io.StringIO(text)).captions
    assert len(captions) == len(PLAYERS) * TURNS_EACH
    assert [caption.text.split(":")[0] for caption in captions[:5]] == list(PLAYERS)
    for before, after in pairwise(captions):
        assert before.end_in_seconds <= after.start_in_seconds


def test_what_happened_before_the_camera_ran_is_left_out(calendar: Path) -> None:
    journal = open_journal(calendar)
    lesson = read_lesson(journal)
    journal.close()
    middle = lesson.balls[60].left_utc_s
    cues = ball_cues(lesson, middle)
    assert all(cue.end_s > 0 and cue.start_s >= 0 for cue in cues)
    assert 58 < len(cues) < 65


@given(st.text(), st.text())
def test_no_words_can_break_the_file(title: str, words: str) -> None:
    cues = [Cue("one", 0.0, 2.0, json.dumps({"feed": words})), Cue("two", 3.0, 4.0, '{"n": 2}')]
    captions = webvtt.from_buffer(io.StringIO(as_webvtt(title, cues, metadata=True))).captions
    assert len(captions) == 2
    assert json.loads(captions[1].text) == {"n": 2}
    assert json.loads(captions[0].text)["feed"].split() == json.loads(cues[0].text)["feed"].split()
