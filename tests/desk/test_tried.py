"""Trouble in the middle of a lesson, as the desk tells it from the rehearsal."""

from __future__ import annotations

import re
from pathlib import Path

from feedscript.desk.tried import Trial, Tried, tried
from tests.desk.test_played import TWO, passed

#: The balls of TWO: one is shown, then three for each of two, then three for each again.
BALLS = 13


def told(trial: Trial) -> tuple[Tried, list[str]]:
    found = tried(passed(Path("two.feed"), TWO), "of today", trial)
    assert [line.at_s for line in found.lines] == sorted(line.at_s for line in found.lines)
    return found, [line.words for line in found.lines]


def test_the_middle_ball_jams_a_person_looks_and_the_others_follow() -> None:
    """Of 13 balls the sixth does not come; a person says so, and it is sent when all is armed."""
    found, lines = told(Trial.JAM)
    assert found.finished
    assert found.balls_left == BALLS
    assert "jam" in found.words
    assert lines[1].endswith("leaves"), "two lines of before"
    assert "does not leave" in lines[2]
    assert lines[-1].endswith("leaves")
    assert not any("leaves" in words for words in lines[2:-1])
    assert "a ball's outcome is unknown; a person is asked" in lines
    assert "a person arms the launcher" in lines


def test_a_lost_link_ends_the_lesson_and_nobody_claims_to_know_of_the_last_ball() -> None:
    found, lines = told(Trial.LINK)
    assert not found.finished
    assert found.balls_left == BALLS // 2 - 1, "the sixth left, and nobody heard of it"
    assert "the link to the launcher is gone" in found.words
    assert "may have left or not" in lines[2]
    assert lines[-2] == "broken off"
    assert "feedscript run --resume" in lines[-1]


def test_a_hopper_that_was_not_filled_runs_empty_and_is_filled_by_who_arms() -> None:
    """Ten balls leave before the collect: five are loaded, the sixth does not come."""
    found, lines = told(Trial.EMPTY)
    assert found.finished
    assert found.balls_left == BALLS
    assert "empty" in found.words
    assert "does not leave" in lines[2]
    assert "a person arms the launcher" in lines
    assert lines[-1].endswith("leaves")


def test_a_player_who_comes_late_has_fewer_balls_and_is_fed_when_there() -> None:
    found, lines = told(Trial.LATE)
    assert found.finished
    assert lines[:2] == ["Ash is not there", "Ash comes"]
    assert lines[2].startswith("the first ball for Ash: ")
    own, other = map(int, re.findall(r"(\d+)(?: balls)? for", found.words))
    assert 0 < own < other
    assert own + other == found.balls_left - 1, "one was shown"


def test_whoever_the_coach_says_comes_late() -> None:
    found = tried(passed(Path("two.feed"), TWO), "of today", Trial.LATE, late=1)
    lines = [line.words for line in found.lines]
    assert lines[:2] == ["Beech is not there", "Beech comes"]
    own, other = map(int, re.findall(r"(\d+)(?: balls)? for", found.words))
    assert own < other
