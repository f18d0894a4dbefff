"""Taps go to the ball the tapper saw; streaks and repeated errors are noticed, privately."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.diagnostics import Diagnostic
from feedscript.plan.model import Result
from feedscript.plan.times import SEEN_AFTER_BOUNCE_S
from feedscript.session.group.questions import QUESTIONS, load_questions, question_for
from feedscript.session.group.recording import Recording
from feedscript.session.group.records import (
    FlownBall,
    Record,
    ball_for_tap,
)
from feedscript.session.group.tally import Notice, NoticeKind, by_player, notice_after


def balls(count: int, gap_s: float = 3.0, flight_s: float = 1.2) -> list[FlownBall]:
    return [FlownBall(i, i, "deep", "AB"[i % 2], i * gap_s, flight_s) for i in range(1, count + 1)]


def tapped(flown: list[FlownBall], recorded: set[int], at_s: float) -> int | str:
    found = ball_for_tap(flown, recorded, at_s)
    return found.slug if isinstance(found, Diagnostic) else found.feed_id


def test_a_tap_after_the_next_ball_left_still_means_the_one_before() -> None:
    """Ball 1 leaves at 3 s and is seen from 4.7 s; ball 2 leaves at 6 s and is seen from 7.7 s."""
    flown = balls(2)
    assert [tapped(flown, set(), at) for at in (4.8, 6.1, 7.6)] == [1, 1, 1]
    assert tapped(flown, set(), 7.8) == 2


def test_a_second_tap_goes_to_the_ball_that_was_missed() -> None:
    flown = balls(3)
    assert tapped(flown, {2}, 8.0) == 1


def test_a_tap_before_any_ball_was_played_is_refused() -> None:
    assert tapped(balls(1), set(), 3.5) == "no-ball-waits"


def test_a_tap_when_every_ball_is_recorded_is_refused() -> None:
    assert tapped(balls(2), {1, 2}, 9.0) == "no-ball-waits"


def test_a_ball_long_gone_does_not_take_a_tap() -> None:
    flown = balls(10)
    assert tapped(flown, set(range(2, 11)), 33.0) == "no-ball-waits"


def test_a_speed_ball_that_was_only_watched_takes_no_tap() -> None:
    shown = FlownBall(1, 1, "deep", None, 3.0, 1.2, shown=True)
    assert tapped([shown], set(), 8.0) == "no-ball-waits"
    played = FlownBall(2, 2, "deep", "A", 6.0, 1.2)
    assert tapped([shown, played], {2}, 9.0) == "no-ball-waits"


@given(
    st.floats(2.0, 6.0),
    st.lists(st.floats(0.0, 0.95), min_size=1, max_size=30),
)
def test_a_steady_tapper_gets_every_ball_right(gap_s: float, lateness: list[float]) -> None:
    """Each ball is tapped some share of a gap after it could be seen, late taps included."""
    flown = balls(len(lateness), gap_s)
    recorded: set[int] = set()
    for ball, late in zip(flown, lateness, strict=True):
        tap_s = ball.left_utc_s + ball.flight_s + SEEN_AFTER_BOUNCE_S + late * gap_s
        left_by_then = [b for b in flown if b.left_utc_s <= tap_s]
        assert tapped(left_by_then, recorded, tap_s) == ball.feed_id
        recorded.add(ball.feed_id)


def records(*results: str, player: str = "A") -> list[Record]:
    return [
        Record(FlownBall(i, i, "deep", player, float(i), 1.0), Result(result), i + 2.0)
        for i, result in enumerate(results, start=1)
    ]


@pytest.mark.parametrize(
    ("results", "noticed"),
    [
        (["long"], None),
        (["long", "net"], None),
        (["net", "long", "long"], Notice(NoticeKind.SAME_ERROR, "A", Result.LONG, 2)),
        (["long", "long", "long"], Notice(NoticeKind.SAME_ERROR, "A", Result.LONG, 3)),
        (["in"] * 4, None),
        (["in"] * 5, Notice(NoticeKind.STREAK, "A", Result.IN, 5)),
        (["in"] * 6, None),
        (["in", "target"] * 2 + ["in"], Notice(NoticeKind.STREAK, "A", Result.IN, 5)),
        (["net", "target"], None),
    ],
)
def test_what_is_noticed(results: list[str], noticed: Notice | None) -> None:
    assert notice_after(records(*results), "A") == noticed


def test_another_players_error_between_does_not_count() -> None:
    mixed = [
        *records("net", player="A"),
        Record(FlownBall(2, 2, "deep", "B", 2.0, 1.0), Result.LONG, 4.0),
        Record(FlownBall(3, 3, "deep", "A", 3.0, 1.0), Result.NET, 5.0),
    ]
    assert notice_after(mixed, "A") == Notice(NoticeKind.SAME_ERROR, "A", Result.NET, 2)


def test_late_taps_count_in_the_order_of_the_balls() -> None:
    first, second, third = records("net", "in", "net")
    assert by_player([first, third, second])["A"].running == 1


def test_shares_are_of_recorded_balls() -> None:
    count = by_player(records("in", "target", "net", "long"))["A"]
    assert (count.balls, count.share_in) == (4, 0.5)
    assert by_player(records("net", "long"))["A"].share_in == 0.0


@pytest.mark.parametrize("result", [r for r in Result if not r.good])
def test_every_repeated_error_is_offered_as_a_question(result: Result) -> None:
    asked = {question_for(Notice(NoticeKind.SAME_ERROR, "A", result, n)) for n in range(2, 6)}
    assert len(asked) == 4
    assert all(text.endswith("?") for text in asked)


def test_a_coachs_own_questions_replace_one_list(tmp_path: Path) -> None:
    path = tmp_path / "questions.toml"
    path.write_text('net = ["And?"]\n', encoding="utf-8")
    questions, faults = load_questions(path)
    assert not faults
    assert question_for(Notice(NoticeKind.SAME_ERROR, "A", Result.NET, 3), questions) == "And?"
    assert questions["long"] == QUESTIONS["long"]


@pytest.mark.parametrize(
    "content", ["net = 3", "net = []", 'nets = ["a"]', "net = [", 'net = [""]', "\x00"]
)
def test_a_spoilt_file_of_questions_is_a_diagnostic_and_ours_are_used(
    tmp_path: Path, content: str
) -> None:
    path = tmp_path / "questions.toml"
    path.write_text(content, encoding="utf-8")
    questions, faults = load_questions(path)
    assert [fault.slug for fault in faults] == ["bad-questions"]
    assert questions == QUESTIONS


@pytest.mark.parametrize(
    ("content", "place"),
    [('streak = ["And?"]\nnet = 3', ", line 2"), ("net = [", ", line 1"), ("\xff", "")],
)
def test_a_mistake_in_a_coachs_own_questions_says_in_which_file_and_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: str, place: str
) -> None:
    """A lesson's screens show message and fix alone; the journal keeps them, without whose home."""
    path = tmp_path / "ash" / ".config" / "questions.toml"
    path.parent.mkdir(parents=True)
    path.write_text(content, encoding="latin-1")
    for home, shown in (("ash", "~/.config/questions.toml"), ("birch", str(path))):
        monkeypatch.setattr(Path, "home", lambda home=home: tmp_path / home)
        _, (fault,) = load_questions(path)
        assert fault.message.startswith(f"your own questions ({shown}{place}): ")
        assert fault.help


def test_a_tap_for_one_station_means_a_ball_that_was_played_there() -> None:
    """Two stations, balls in turn: whoever records one of them never gives the other a result."""
    flown = [
        msgspec.structs.replace(ball, station=("west", "east")[ball.feed_id % 2])
        for ball in balls(6)
    ]
    recording = Recording(balls=tuple(flown))
    for station in ("west", "east"):
        ball = recording.tapped(None, 60.0, station)
        assert isinstance(ball, FlownBall)
        assert ball.station == station
    newest = recording.tapped(None, 60.0)
    assert isinstance(newest, FlownBall)
    assert newest.feed_id == 6
    nobody = recording.tapped(None, 60.0, "north")
    assert isinstance(nobody, Diagnostic)
