"""How players stand with goals and scores: whatever was recorded and taken back, as a fresh count.

The oracle counts letters of a string: it shares nothing with what it judges.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from feedscript.plan.model import Exercise, Goal, Plan, Result, Score, Target
from feedscript.plan.scene import Player
from feedscript.session.group.goals import Shot, goal_words, standing
from feedscript.session.group.recording import Recording
from feedscript.session.group.records import FlownBall, Go
from feedscript.session.state.apply import apply
from feedscript.session.state.events import ResultRecorded, ResultUndone
from feedscript.session.state.run_state import RunState, state_at_the_start
from feedscript.session.state.shots import newly_met, shots_of
from tests.plan.small_plans import plan, send

DEEP = Target(name="deep", outlines_m=(((-4.0, -11.0), (4.0, -11.0), (4.0, -8.0), (-4.0, -8.0)),))
LETTERS = {"T": Result.TARGET, "I": Result.IN, "n": Result.NET, "l": Result.LONG, "r": Result.RIGHT}
NAMES = ("Ana", "Ben", "Cleo")


def lesson(**wants) -> Plan:
    one = Exercise(title="E", repeats=1, line=2, body=(send(0, 4.0),), **wants)
    return plan(one, players=tuple(Player(name=name) for name in NAMES))


def shots(letters: str, player: str = "Ana") -> list[Shot]:
    return [Shot(n, player, LETTERS.get(one)) for n, one in enumerate(letters, 1)]


def goal(text: str) -> Goal:
    """`7/10 T`: so many of so many; `5 T`: so many at all; `4- T`: in a row."""
    count, what = text.split()
    n, _, of = count.rstrip("-").partition("/")
    row = count.endswith("-")
    return Goal(
        at_least=int(n),
        of=int(of) if of else int(n) if row else None,
        in_a_row=row,
        in_target=what == "T",
    )


@pytest.mark.parametrize(
    ("wanted", "letters", "made", "met_by"),
    [
        ("2/3 T", "", 0, None),
        ("2/3 T", "TIT", 2, 3),
        ("2/3 T", "TIIT", 1, None),
        ("2/3 T", "TTnnn", 0, 2),  # met once is met
        ("2/3 I", "TIn", 2, 2),  # what is in the target is in
        ("3- I", "TInTIT", 3, 6),
        ("3- T", "TTIT", 1, None),
        ("3 I", "nInnTnI", 3, 7),
        ("2/3 T", "T?T", 2, 3),  # a ball that nobody recorded neither counts nor stands between
    ],
)
def test_a_goal_looks_at_the_last_recorded_balls(wanted, letters, made, met_by) -> None:
    exercise = lesson(target=DEEP, goals=(goal(wanted),)).steps[0]
    now = standing(exercise, shots(letters), NAMES)
    found = [(one.made, one.met_by) for one in now.goals[0]]
    assert found == ([(made, met_by)] if letters else [])


@pytest.mark.parametrize(
    ("letters", "points", "against", "won", "over_by"),
    [
        ("TI", 3, 0, False, None),
        ("TnT", 4, 1, True, 3),
        ("TnTTTT", 4, 1, True, 3),  # the game is over: further balls do not count
        ("nlr", 0, 3, False, None),
        ("nlrnTT", 0, 4, False, 4),  # the launcher has it
    ],
)
def test_a_game_is_over_at_so_many_points(letters, points, against, won, over_by) -> None:
    errors = dict.fromkeys((Result.NET, Result.LONG, Result.LEFT, Result.RIGHT), 1)
    score = Score(points={Result.TARGET: 2, Result.IN: 1}, against=errors, to=4)
    (side,) = standing(lesson(target=DEEP, score=score).steps[0], shots(letters), NAMES).sides
    assert (side.points, side.against, side.won, side.over_by) == (points, against, won, over_by)


def test_pairs_are_those_who_follow_each_other_in_the_group() -> None:
    exercise = lesson(score=Score(points={Result.IN: 1}, pairs=True)).steps[0]
    played = [Shot(n, name, Result.IN) for n, name in enumerate(("Cleo", "Ben", "Ana", "Ben"), 1)]
    sides = standing(exercise, played, NAMES).sides
    assert [(side.players, side.points) for side in sides] == [(("Ana", "Ben"), 3), (("Cleo",), 1)]
    late = standing(exercise, played, (*NAMES, "Dan")).sides
    assert [(side.players, side.points) for side in late] == [
        (("Ana", "Ben"), 3),
        (("Cleo", "Dan"), 1),
    ]


def test_a_row_is_of_the_target_where_there_is_one() -> None:
    (row,) = standing(lesson(target=DEEP).steps[0], shots("TTnTTTIT"), NAMES).rows
    assert (row.running, row.best) == (1, 3)
    (row,) = standing(lesson().steps[0], shots("TTnTTTIT"), NAMES).rows
    assert (row.running, row.best) == (5, 5)


def test_a_goal_is_told_in_words() -> None:
    told = [goal_words(goal(text), "deep") for text in ("7/10 T", "5- T", "9 T", "7/10 I", "5- I")]
    assert told == [
        *("7 of 10 in deep", "5 in a row in deep", "9 in deep"),
        *("7 of 10 in court", "5 in a row in court"),
    ]
    share = Goal(at_least=14, of=20, share=0.7, in_target=True)
    assert goal_words(share, "deep") == "70 % of the last 20 in deep"


# --- any sequence of results and undos

WHOLE = lesson(
    target=DEEP,
    goals=(goal("2/3 T"), goal("3- I"), goal("4 I")),
    score=Score(points={Result.TARGET: 2, Result.IN: 1}, against={Result.NET: 1}, to=5),
)
BALLS = 14
ACTS = st.lists(
    st.one_of(st.just("undo"), st.tuples(st.integers(1, BALLS), st.sampled_from("TInlr"))),
    max_size=30,
)


def flown(feed_id: int) -> FlownBall:
    """The first half of the first go, the rest of the second."""
    go = Go(1, 1 if feed_id <= BALLS // 2 else 2)
    name = NAMES[feed_id % 2]
    return FlownBall(feed_id, feed_id, "a", name, 1e9 + feed_id, 1.0, go=go)


def begun() -> RunState:
    left = {n: flown(n) for n in range(1, BALLS + 1)}
    return replace(state_at_the_start(WHOLE), left=left, next_feed_id=BALLS + 1)


def recording(state: RunState) -> Recording:
    return Recording(tuple(state.left.values()), tuple(state.records.values()))


def played(acts) -> tuple[RunState, dict[int, str]]:
    """The state after these taps, and what a person would have on paper: a letter for a ball."""
    state, paper = begun(), {}
    for number, act in enumerate(acts):
        if act == "undo":
            if not paper:
                continue
            last = list(paper)[-1]
            state = apply(WHOLE, state, ResultUndone(feed_id=last))
            del paper[last]
            continue
        ball, letter = act
        tap = ResultRecorded(feed_id=ball, result=LETTERS[letter], tapped_utc_s=1e9 + 50 + number)
        state = apply(WHOLE, state, tap)
        paper.pop(ball, None)
        paper[ball] = letter
    return state, paper


def counted(text: str) -> tuple:
    """By hand: the goals in their order, rows and score of one player's letters."""
    two = any(text[max(0, n - 3) : n].count("T") >= 2 for n in range(len(text) + 1))
    good = re.sub("[TI]", "g", text)
    rows = [len(row) for row in re.findall("T+", text)]
    mine = theirs = 0
    for letter in text:
        if mine >= 5 or theirs >= 5:
            break
        mine += {"T": 2, "I": 1}.get(letter, 0)
        theirs += letter == "n"
    return two, "ggg" in good, good.count("g") >= 4, max(rows, default=0), mine, theirs


@settings(max_examples=200)
@given(ACTS)
def test_whatever_was_recorded_and_undone_counts_as_if_it_were_counted_afresh(acts) -> None:
    state, paper = played(acts)
    for go in (Go(1, 1), Go(1, 2)):
        now = standing(WHOLE.steps[0], shots_of(recording(state), go), NAMES)
        for name in NAMES[:2]:
            theirs = [n for n in sorted(paper) if flown(n).player == name and flown(n).go == go]
            text = "".join(paper[n] for n in theirs)
            goals = [next(one for one in its if one.player == name) for its in now.goals]
            (row,) = [one for one in now.rows if one.player == name]
            (side,) = [one for one in now.sides if one.players == (name,)]
            met = [one.met for one in goals]
            assert (*met, row.best, side.points, side.against) == counted(text)


@settings(max_examples=100)
@given(ACTS)
def test_what_is_told_is_what_the_last_tap_brought_about(acts) -> None:
    """Told at the tap with which a goal is met for the first time, in the order of the balls."""
    state, paper = played(acts)
    for ball in paper:
        told = newly_met(WHOLE, state, recording(state), ball)
        name, go = flown(ball).player, flown(ball).go
        upto = [n for n in sorted(paper) if flown(n).player == name and flown(n).go == go]
        before = "".join(paper[n] for n in upto if n < ball)
        after = "".join(paper[n] for n in upto if n <= ball)
        met = zip(counted(before)[:3], counted(after)[:3], strict=True)
        expected = sum(now and not was for was, now in met)
        over = max(counted(after)[4:]) >= 5 > max(counted(before)[4:])
        assert len(told) == expected + over
        assert all(name in words or "launcher" in words for _, words in told)
        assert all(players == (name,) for players, _ in told)
