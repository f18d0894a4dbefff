"""A jam in the middle of a lesson, as the desk tells it from the rehearsal."""

from __future__ import annotations

from pathlib import Path

from feedscript.desk.tried import jammed
from tests.desk.test_played import TWO, passed


def test_the_middle_ball_jams_a_person_looks_and_the_others_follow() -> None:
    """Of 13 balls the sixth does not come; a person says so, and it is sent when all is armed."""
    tried = jammed(passed(Path("two.feed"), TWO), "of today")
    told = [line.words for line in tried.lines]
    assert tried.finished
    assert tried.balls_left == 13
    assert [line.at_s for line in tried.lines] == sorted(line.at_s for line in tried.lines)
    assert told[1].endswith("leaves"), "two lines of before"
    assert "does not leave" in told[2]
    assert told[-1].endswith("leaves")
    assert not any("leaves" in words for words in told[2:-1])
    assert "a ball's outcome is unknown; a person is asked" in told
    assert "a person arms the launcher" in told
