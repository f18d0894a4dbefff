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

from feedscript.journal.store import read_journal
from feedscript.review.report.lesson import Lesson, lesson_of_player, read_lesson
from feedscript.review.video.cues import LEAD_S, Cue, Track, as_webvtt, cues_of
from tests.review.calendar import BALLS_EACH, PLAYERS, TURNS_EACH

VIDEO_START_LAG_S = 12.5


@pytest.fixture
def lesson(calendar: Path) -> Lesson:
    journal = read_journal(calendar)
    lesson = read_lesson(journal)
    journal.close()
    return lesson


def captions(lesson: Lesson, start_utc_s: float, track: Track) -> list[webvtt.Caption]:
    """The file as webvtt-py reads it back."""
    cues = cues_of(lesson, start_utc_s, track)
    text = as_webvtt(lesson.title, cues, metadata=track is Track.METADATA)
    read: list[webvtt.Caption] = webvtt.from_buffer(io.StringIO(text)).captions
    return read


def seconds(stamp: webvtt.models.Timestamp) -> float:
    hours, minutes, whole, thousandths = stamp.to_tuple()
    return float(3600 * hours + 60 * minutes + whole + thousandths / 1000)


def test_every_ball_is_marked_within_50_ms_of_the_journal(lesson: Lesson, calendar: Path) -> None:
    journal = read_journal(calendar)
    left = journal.rows(
        "SELECT feed_id, left_utc_s FROM ball WHERE session_id = ? ORDER BY feed_id",
        (lesson.number,),
    )
    journal.close()
    start = lesson.begun_utc_s - VIDEO_START_LAG_S
    found = captions(lesson, start, Track.METADATA)
    assert len(found) == len(left) == BALLS_EACH * len(PLAYERS) + 1
    for caption, row in zip(found, left, strict=True):
        facts = json.loads(caption.text)
        assert facts["ball"] == row["feed_id"]
        in_video = row["left_utc_s"] - start
        assert facts["left_s"] == pytest.approx(in_video, abs=0.050)
        assert seconds(caption.start_time) + LEAD_S == pytest.approx(in_video, abs=0.050)
    for caption, row in zip(captions(lesson, start, Track.BALLS), left, strict=True):
        in_video = row["left_utc_s"] - start
        assert seconds(caption.start_time) + LEAD_S == pytest.approx(in_video, abs=0.050)


def test_there_is_one_chapter_for_each_turn_and_they_do_not_overlap(lesson: Lesson) -> None:
    found = captions(lesson, lesson.begun_utc_s, Track.TURNS)
    assert len(found) == len(PLAYERS) * TURNS_EACH + 1
    assert found[0].text == "Speed shown: deep backhand (1 ball)"
    assert [caption.text.split(":")[0] for caption in found[1:6]] == list(PLAYERS)
    for before, after in pairwise(found):
        assert before.end_in_seconds <= after.start_in_seconds


def test_each_ball_of_one_player_has_a_chapter_and_nobody_elses_has(lesson: Lesson) -> None:
    alone = lesson_of_player(lesson, "Cedar", PLAYERS)
    found = captions(alone, lesson.begun_utc_s, Track.BALLS)
    assert len(found) == BALLS_EACH
    assert {caption.text.split(":")[0] for caption in found} == {"Cedar"}
    assert len(captions(alone, lesson.begun_utc_s, Track.TURNS)) == TURNS_EACH


def test_what_happened_before_the_camera_ran_is_left_out(lesson: Lesson) -> None:
    middle = lesson.balls[60].left_utc_s
    for track in Track:
        cues = cues_of(lesson, middle, track)
        assert all(cue.end_s > cue.start_s >= 0.0 for cue in cues)
    assert 59 < len(cues) < 66


@given(st.text(), st.text())
def test_no_words_can_break_the_file(title: str, words: str) -> None:
    cues = [Cue("one", 0.0, 2.0, json.dumps({"feed": words})), Cue("two", 3.0, 4.0, '{"n": 2}')]
    read = webvtt.from_buffer(io.StringIO(as_webvtt(title, cues, metadata=True))).captions
    assert len(read) == 2
    assert json.loads(read[1].text) == {"n": 2}
    assert json.loads(read[0].text)["feed"].split() == json.loads(cues[0].text)["feed"].split()
