"""What a run asks for, step by step."""

from __future__ import annotations

import itertools

import pytest

from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    Jump,
    OnTurn,
    Pause,
    PickUp,
    Reply,
    SendBall,
    Speak,
    StartStations,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.interpreter.interpret import interpret
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import (
    Choose,
    Collect,
    Condition,
    Option,
    Repeat,
    Result,
    Say,
    Send,
    ShowSpeed,
    Shuffle,
    Station,
    Together,
    Turns,
    Until,
    When,
)
from feedscript.plan.scene import Player
from tests.plan.small_plans import feed, plan, rest, send

FIVE_IN = Condition(results=(Result.IN,), at_least=2, window=2)
RIGHT, LEFT = Player(name="r"), Player(name="l", left_handed=True)


def silent(_: Action) -> Reply:
    return None


def sent(actions) -> list[tuple[float, int]]:
    return [(a.at_s, a.feed) for a in actions if isinstance(a, SendBall)]


def jumping(jumps: dict[int, Jump]):
    """Reply the jump at the n-th action."""
    count = iter(range(1000))
    return lambda _: jumps.get(next(count))


def test_sends_and_rests_move_the_cursor_in_whole_milliseconds():
    run = run_through(plan(Repeat(times=3, body=(send(0, 0.1), rest(0.2)), line=1)), silent)
    assert sent(run) == [(0.1, 0), (0.4, 0), (0.7, 0)]


def test_words_speed_balls_and_collecting_take_no_time_of_the_cursor():
    steps = (ShowSpeed(feed=1, line=1), Say(text="go", line=2), send(0), Collect(line=3), send(0))
    run = list(run_through(plan(*steps), silent))
    assert [type(action) for action in run] == [WatchSpeed, Speak, SendBall, PickUp, SendBall]
    assert [action.at_s for action in run] == [0.0, 0.0, 1.0, 1.0, 2.0]
    assert [a.ball for a in run if isinstance(a, WatchSpeed | SendBall)] == [1, 2, 3]


def test_one_option_is_chosen_and_the_choice_repeats_with_the_seed():
    options = (Option(weight=1, body=(send(0),)), Option(weight=1, body=(send(1),)))
    steps = Repeat(times=40, body=(Choose(options=options, line=1),), line=1)
    runs = [tuple(sent(run_through(plan(steps, seed=s), silent))) for s in (1, 1, 2)]
    assert runs[0] == runs[1] != runs[2]
    assert {feed for _, feed in runs[0]} == {0, 1}


def test_a_choice_with_a_seed_of_its_own_ignores_the_plans_seed():
    options = (Option(weight=1, body=(send(0),)), Option(weight=1, body=(send(1),)))
    steps = Repeat(times=40, body=(Choose(options=options, seed=7, line=1),), line=1)
    assert sent(run_through(plan(steps, seed=1), silent)) == sent(
        run_through(plan(steps, seed=2), silent)
    )


def test_a_shuffle_sends_every_item_once():
    items = ((send(0),), (send(1),), (send(2),))
    run = sent(run_through(plan(Shuffle(items=items, line=1)), silent))
    assert sorted(feed for _, feed in run) == [0, 1, 2]


def test_a_varied_gap_and_feed_stay_within_their_bounds():
    varied = Send(feeds=(0, 1, 2), after_s=(1.0, 1.005), line=1)
    run = sent(run_through(plan(Repeat(times=200, body=(varied,), line=1)), silent))
    gaps = {round(b[0] - a[0], 6) for a, b in itertools.pairwise(run)}
    assert gaps == {1.0, 1.001, 1.002, 1.003, 1.004, 1.005}
    assert {feed for _, feed in run} == {0, 1, 2}


def test_until_asks_only_once_enough_balls_were_sent_and_stops_on_yes():
    block = Until(condition=FIVE_IN, at_most=5, body=(send(0),), line=1)
    run = list(run_through(plan(block), lambda a: isinstance(a, Ask) and a.last_ball == 3))
    assert [(a.first_ball, a.last_ball, a.ever) for a in run if isinstance(a, Ask)] == [
        (1, 2, True),
        (1, 3, True),
    ]
    assert len(sent(run)) == 3


def test_until_ends_at_its_most_without_asking_in_vain():
    block = Until(condition=FIVE_IN, at_most=3, body=(send(0),), line=1)
    run = list(run_through(plan(block), lambda _: False))
    assert len(sent(run)) == 3
    assert sum(isinstance(action, Ask) for action in run) == 1


@pytest.mark.parametrize(("held", "feeds"), [(True, [0]), (False, [1])])
def test_when_takes_the_branch_that_the_reply_says(held, feeds):
    step = When(condition=FIVE_IN, then=(send(0),), otherwise=(send(1),), line=1)
    assert [feed for _, feed in sent(run_through(plan(step), lambda _: held))] == feeds


def test_when_looks_at_the_turn_only():
    body = (send(0), When(condition=FIVE_IN, then=(), line=1))
    turns = Turns(slots=2, passes=2, body=body, line=1)
    run = run_through(plan(send(0), turns, players=(RIGHT, RIGHT)), lambda _: None)
    asked = [(a.first_ball, a.last_ball) for a in run if isinstance(a, Ask)]
    assert asked == [(2, 2), (2, 3), (4, 4), (4, 5)]


def test_timed_turns_begin_on_the_minute_and_left_handers_get_the_mirrored_feed():
    body = (Send(feeds=(0,), left_feeds=(1,), after_s=(1.0, 1.0), line=1),)
    turns = Turns(slots=3, passes=2, body=body, every_s=60.0, line=1)
    run = list(run_through(plan(turns, players=(RIGHT, LEFT, RIGHT)), silent))
    assert sent(run) == [(1, 0), (2, 0), (61, 1), (62, 1), (121, 0), (122, 0)]
    assert [(a.at_s, a.player) for a in run if isinstance(a, TakeTurn)] == [
        (0, 0),
        (60, 1),
        (120, 2),
    ]
    assert [a.player for a in run if isinstance(a, SendBall)] == [0, 0, 1, 1, 2, 2]


def test_the_roster_may_put_somebody_else_on():
    body = (Send(feeds=(0,), left_feeds=(1,), after_s=(1.0, 1.0), line=1),)
    turns = Turns(slots=2, passes=1, body=body, line=1)
    reply = lambda a: OnTurn(1, True) if isinstance(a, TakeTurn) else None  # noqa: E731
    run = list(run_through(plan(turns, players=(RIGHT, LEFT)), reply))
    assert [(a.player, a.feed) for a in run if isinstance(a, SendBall)] == [(1, 1), (1, 1)]


def test_stations_run_side_by_side_each_on_its_launcher_and_end_together():
    feeds = (feed("a", 0), feed("b", 1))
    stations = (
        Station(name="n", launcher=0, players=(0,), body=(send(0, 2), send(0, 2)), line=1),
        Station(name="s", launcher=1, players=(1,), body=(send(1, 1), send(1, 2)), line=2),
    )
    steps = (Together(stations=stations, for_s=10.0, line=1), send(0))
    run = list(run_through(plan(*steps, feeds=feeds, players=(RIGHT, RIGHT)), silent))
    balls = [(a.at_s, a.station, a.ball, a.player) for a in run if isinstance(a, SendBall)]
    assert balls == [
        (1.0, "s", 1, 1),
        (2.0, "n", 1, 0),
        (3.0, "s", 2, 1),
        (4.0, "n", 2, 0),
        (11.0, "", 3, None),
    ]


def test_going_on_before_a_station_has_ended_is_refused():
    stations = (Station(name="n", launcher=0, players=(), body=(send(0),), line=1),)
    steps = interpret(plan(Together(stations=stations, for_s=10.0, line=1)))
    assert isinstance(next(steps), StartStations)
    with pytest.raises(RuntimeError):
        steps.send(None)


def test_a_skipped_ball_is_not_counted_and_the_next_comes_after_its_own_gap():
    run = list(run_through(plan(send(0), send(1), send(2, 5)), jumping({1: Jump.SKIP})))
    assert sent(run) == [(1, 0), (2, 1), (6, 2)]
    assert [a.ball for a in run if isinstance(a, SendBall)] == [1, 2, 2]


def test_next_leaves_the_innermost_series():
    steps = (Repeat(times=9, body=(Repeat(times=9, body=(send(0),), line=2), rest(1)), line=1),)
    run = list(run_through(plan(*steps), jumping({1: Jump.NEXT, 2: Jump.NEXT})))
    assert [type(action) for action in run] == [SendBall, SendBall, Pause]
    assert {a.series for a in run if isinstance(a, SendBall)} == {2}


def test_again_begins_the_series_again_but_never_sends_more_than_the_plan_allows():
    steps = (Repeat(times=3, body=(send(0),), line=1),)
    once = list(run_through(plan(*steps), jumping({2: Jump.AGAIN})))
    assert len(sent(once)) == 6  # the refused third, and three anew
    capped = list(run_through(plan(*steps, most_balls=4), jumping({2: Jump.AGAIN})))
    assert max(a.ball for a in capped if isinstance(a, SendBall)) == 4
    assert isinstance(capped[-1], Speak)


def test_again_after_a_ball_counts_that_ball():
    steps = (Repeat(times=2, body=(send(0),), line=1), send(1))
    run = list(run_through(plan(*steps), jumping({1: Jump.AGAIN_AFTER})))
    assert sent(run) == [(1, 0), (2, 0), (3, 0), (4, 0), (5, 1)]
    assert [a.ball for a in run if isinstance(a, SendBall)] == [1, 2, 3, 4, 5]
