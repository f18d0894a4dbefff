"""A place in a plan can be found again from the decisions and the balls that left."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedscript.plan.interpreter.actions import (
    Ask,
    Jump,
    OnTurn,
    Pause,
    PickUp,
    SendBall,
    Speak,
    StartStations,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.model import (
    Choose,
    Collect,
    Condition,
    Option,
    Plan,
    Repeat,
    Result,
    Say,
    ShowSpeed,
    Shuffle,
    Station,
    Step,
    Together,
    Turns,
    Until,
)
from feedscript.plan.scene import Player
from feedscript.session.state.plan_cursor import MAIN, Course, begin, next_ball, stand_at
from tests.plan.small_plans import feed, plan, rest, send

PLAYERS = (Player(name="A"), Player(name="B", left_handed=True), Player(name="C"))
FIVE_IN = Condition(results=(Result.IN,), at_least=2, window=2)


def steps_of(inner: st.SearchStrategy[Step]) -> st.SearchStrategy[Step]:
    body = st.lists(inner, min_size=1, max_size=3).map(tuple)
    return st.one_of(
        st.builds(lambda b, n: Repeat(times=n, body=b, line=2), body, st.integers(1, 3)),
        st.builds(lambda b: Turns(slots=3, passes=1, body=b, line=3), body),
        st.builds(
            lambda b, n: Until(condition=FIVE_IN, at_most=n, body=b, line=4),
            body,
            st.integers(1, 4),
        ),
        st.builds(lambda a, b: Shuffle(items=(a, b), line=5), body, body),
        st.builds(
            lambda a, b: Choose(
                options=(Option(weight=1, body=a), Option(weight=2, body=b)), line=6
            ),
            body,
            body,
        ),
    )


leaves: st.SearchStrategy[Step] = st.one_of(
    st.builds(send, st.integers(0, 2)), st.just(rest(1.0)), st.just(Say(text="x", line=1))
)
trees = st.recursive(leaves, steps_of, max_leaves=6)


def station(name: str, launcher: int, body: tuple[Step, ...]) -> Station:
    return Station(name=name, launcher=launcher, players=(0, 1), body=body, line=7)


@st.composite
def lessons(draw: st.DrawFn) -> Plan:
    tops: list[Step] = draw(st.lists(trees, min_size=1, max_size=3))
    if draw(st.booleans()):
        north = tuple(draw(st.lists(trees, min_size=1, max_size=2)))
        south = Repeat(times=3, body=(send(3),), line=8)
        tops.append(
            Together(
                stations=(station("north", 0, north), station("south", 1, (south,))),
                for_s=100.0,
                line=9,
            )
        )
    tops.insert(draw(st.integers(0, len(tops))), Collect(line=10))
    feeds = (feed("a"), feed("b"), feed("c"), feed("d", launcher=1))
    return plan(ShowSpeed(feed=0, line=1), *tops, feeds=feeds, players=PLAYERS, seed=3)


def places(course: Course) -> dict[str, tuple[int, object]]:
    """Where every lane stands; a fork by its stations' names, since walks do not compare."""
    return {
        key: (lane.number, lane.action if not isinstance(lane.action, StartStations) else "fork")
        for key, lane in course.lanes.items()
    }


def past_rests(course: Course) -> Course:
    """Calls, rests and the ends of stations after the last sure action come again; pass them."""
    while True:
        waiting = [
            key
            for key in course.lanes
            if isinstance(course.action(key), Speak | Pause) or over_fork(course, key)
        ]
        if not waiting:
            return course
        course.reply(waiting[0], None)


def over_fork(course: Course, key: str) -> bool:
    ended = all(course.action(station) is None for station in course.stations())
    return isinstance(course.action(key), StartStations) and ended


def lane_to_move(course: Course, pick: int) -> str:
    ready = [key for key in course.stations() if course.action(key) is not None]
    return ready[pick % len(ready)] if ready else MAIN


@given(lessons(), st.data())
def test_the_same_decisions_and_balls_lead_to_the_same_place(
    lesson: Plan, data: st.DataObject
) -> None:
    course = begin(lesson)
    done: dict[int, int] = {}
    for _ in range(60):
        key = lane_to_move(course, data.draw(st.integers(0, 7)))
        action = course.action(key)
        if action is None:
            break
        reply: object = None
        if isinstance(action, Ask):
            reply = data.draw(st.booleans())
        elif isinstance(action, TakeTurn):
            reply = OnTurn(data.draw(st.integers(0, 2)), data.draw(st.booleans()))
        elif isinstance(action, WatchSpeed | PickUp):
            reply = True
        elif isinstance(action, SendBall):
            kinds = [None, None, None, Jump.SKIP, Jump.NEXT]
            reply = data.draw(st.sampled_from(kinds))
        if isinstance(action, SendBall | WatchSpeed) and reply in (None, True):
            done[action.launcher] = action.ball
        course.reply(key, reply)  # type: ignore[arg-type]
        again = past_rests(stand_at(lesson, course.decisions, done))
        for lane, place in places(course).items():
            if isinstance(course.action(lane), SendBall | Ask | TakeTurn | PickUp | WatchSpeed):
                assert places(again)[lane] == place


def test_a_ball_that_was_only_looked_ahead_to_comes_again() -> None:
    lesson = plan(send(0), send(1), send(2))
    course = begin(lesson)
    course.reply(MAIN, None)
    course.reply(MAIN, None)
    again = stand_at(lesson, course.decisions, {0: 1})
    action = again.action()
    assert isinstance(action, SendBall)
    assert (action.ball, action.feed) == (2, 1)


def test_peeking_shows_the_ball_that_either_answer_leads_to_and_moves_nothing() -> None:
    lesson = plan(Until(condition=FIVE_IN, at_most=3, body=(send(0),), line=4), send(2, 5.0))
    course = begin(lesson)
    for _ in range(2):
        course.reply(MAIN, None)
    assert isinstance(course.action(), Ask)
    _, on = next_ball(course, MAIN, True, {0: 2})
    _, off = next_ball(course, MAIN, False, {0: 2})
    assert on is not None
    assert off is not None
    assert (on.feed, on.at_s) == (2, 7.0)
    assert (off.feed, off.at_s) == (0, 3.0)
    assert isinstance(course.action(), Ask)


def test_nothing_is_passed_that_a_person_must_do() -> None:
    lesson = plan(ShowSpeed(feed=0, line=1), Collect(line=2), send(0))
    assert isinstance(stand_at(lesson, {}, {0: 9}).action(), WatchSpeed)
    assert isinstance(stand_at(lesson, {(MAIN, 0): True}, {0: 9}).action(), PickUp)


def test_a_fork_that_ends_in_a_rest_is_over_once_the_collect_after_it_is() -> None:
    ends = (send(0), rest(9.0))
    fork = Together(stations=(station("north", 0, ends),), for_s=10.0, line=9)
    lesson = plan(fork, Collect(line=2), send(0), players=PLAYERS)
    assert isinstance(stand_at(lesson, {}, {0: 1}).action(), StartStations)
    again = stand_at(lesson, {(MAIN, 1): True}, {0: 1}).action()
    assert isinstance(again, SendBall)
    assert again.ball == 2


def test_calls_and_rests_come_again_unless_a_ball_after_them_left() -> None:
    lesson = plan(send(0), Say(text="x", line=1), rest(9.0), send(1))
    assert isinstance(stand_at(lesson, {}, {0: 1}).action(), Speak)
    said = stand_at(lesson, {(MAIN, 1): True}, {0: 1})
    assert isinstance(said.action(), Pause)
    assert stand_at(lesson, {}, {0: 2}).action() is None
