"""The steps of a program as the steps of its plan."""

from __future__ import annotations

from feedscript.diagnostics import Span
from feedscript.language import program as said
from feedscript.language.program import GroupDecl, LauncherDecl
from feedscript.plan.model import Condition, Result, Together, Turns, Until, When
from tests.plan.programs import at, compiled, program, rest, send, show, wish

TWO = (LauncherDecl(name="north"), LauncherDecl(name="south", stands_m=(3.0, -12.9)))
FIVE = GroupDecl(players=5)


def steps(*given, **more):
    result = compiled(program(*given, **more))
    assert result.diagnostics == ()
    return result.plan.steps


def slugs(*given, **more) -> list[str]:
    return [found.slug for found in compiled(program(*given, **more)).diagnostics]


def station(name: str, launcher: str, *body) -> said.StationStatement:
    return said.StationStatement(name=name, launcher=launcher, body=body, span=at(8))


def in_a_row(count: int, **more) -> said.RecordCondition:
    fields = {"outcome": said.Recorded.IN, "in_a_row": True, **more}
    return said.RecordCondition(count=count, span=at(9), **fields)


def test_a_varied_gap_is_least_and_most_and_never_below_nothing():
    one, two = steps(send(after_s=4.0, vary_s=0.5), send(after_s=0.3, vary_s=0.5))
    assert one.after_s == (3.5, 4.5)
    assert two.after_s == (0.0, 0.8)


def test_left_handers_get_the_mirrored_feed_where_there_are_any():
    feeds = (wish("deep", mirrored="other"), wish("other", land_m=(1.0, 9.9)))
    group = GroupDecl(players=2, left_handed=1)
    assert steps(send(), feeds=feeds, group=group)[0].left_feeds == (1,)
    only_right = compiled(program(send(), feeds=feeds)).plan
    assert only_right.steps[0].left_feeds == ()
    assert [feed.name for feed in only_right.feeds] == ["deep"]


def test_the_fastest_of_a_varied_feed_is_shown():
    varied = wish(vary=said.Variation(speed_mps=2.0))
    plan = compiled(program(show(), send(), feeds=(varied,))).plan
    assert plan.feeds[plan.steps[0].feed].speed_mps == max(f.speed_mps for f in plan.feeds)


def test_conditions_become_counts_over_a_window():
    def lowered(condition):
        return steps(said.WhenStatement(condition=condition, body=(send(),), span=at(9)))[
            0
        ].condition

    both = (Result.TARGET, Result.IN)  # what is in the target is in
    assert lowered(in_a_row(3)) == Condition(results=both, at_least=3, window=3)
    assert lowered(in_a_row(4, in_a_row=False)) == Condition(results=both, at_least=4)
    share = in_a_row(10, in_a_row=False, share=0.7)
    assert lowered(share) == Condition(results=both, at_least=7, window=10)
    assert lowered(in_a_row(2, feed="deep")).feeds == (0,)


def test_until_and_when_keep_their_bodies():
    until = said.UntilStatement(condition=in_a_row(2), most=5, body=(send(),), span=at(9))
    when = said.WhenStatement(
        condition=in_a_row(2), body=(send(),), otherwise=(rest(1),), span=at(9)
    )
    one, two = steps(until, when)
    assert isinstance(one, Until)
    assert (one.at_most, len(one.body)) == (5, 1)
    assert isinstance(two, When)
    assert (len(two.then), len(two.otherwise)) == (1, 1)


def test_a_timed_turn_repeats_its_body_as_often_as_it_surely_fits():
    turn = said.RotateStatement(every_s=30.0, every_balls=None, body=(send(), rest(3)), span=at(9))
    lowered = steps(turn, group=FIVE)[0]
    assert isinstance(lowered, Turns)
    assert (lowered.slots, lowered.passes, lowered.every_s) == (5, 4, 30.0)


def test_a_turn_by_balls_repeats_its_body_as_long_as_they_last():
    turn = said.RotateStatement(every_s=None, every_balls=6, body=(send(), send()), span=at(9))
    lowered = steps(turn, group=FIVE)[0]
    assert (lowered.passes, lowered.every_s) == (3, None)
    few = said.RotateStatement(every_s=None, every_balls=1, body=(send(), send()), span=at(9))
    assert steps(few, group=FIVE)[0].passes == 1


def test_a_turn_shorter_than_its_body_is_refused_and_the_length_named_is_enough():
    body = (said.RepeatStatement(times=10, body=(send(),), span=at(9)),)
    turn = said.RotateStatement(every_s=20.0, every_balls=None, body=body, span=at(9))
    found = compiled(program(turn, group=FIVE)).diagnostics[0]
    assert (found.slug, "every 40 s" in found.help) == ("turn-too-short", True)
    longer = said.RotateStatement(every_s=40.0, every_balls=None, body=body, span=at(9))
    assert slugs(longer, group=FIVE) == []


def test_stations_share_the_group_and_end_with_the_slowest():
    both = said.TogetherStatement(
        stations=(station("n", "north", send()), station("s", "south", send(), send())),
        span=at(8),
    )
    (lowered,) = steps(both, launchers=TWO, group=FIVE)
    assert isinstance(lowered, Together)
    assert [s.players for s in lowered.stations] == [(0, 1, 2), (3, 4)]
    assert lowered.for_s == 8.0
    assert [s.launcher for s in lowered.stations] == [0, 1]


def test_a_feed_at_two_launchers_is_aimed_from_each():
    both = said.TogetherStatement(
        stations=(station("n", "north", send()), station("s", "south", send())), span=at(8)
    )
    plan = compiled(program(both, launchers=TWO, group=FIVE)).plan
    assert [(feed.name, feed.launcher) for feed in plan.feeds] == [
        ("deep on north", 0),
        ("deep on south", 1),
    ]
    assert plan.feeds[0].azimuth_deg != plan.feeds[1].azimuth_deg


def test_every_launcher_that_sends_a_feed_shows_its_speed():
    both = said.TogetherStatement(
        stations=(station("n", "north", send()), station("s", "south", send("wide"))), span=at(8)
    )
    feeds = (wish("deep"), wish("wide", land_m=(1.0, 9.5)))
    plan = compiled(
        program(show("deep"), show("wide"), both, launchers=TWO, group=FIVE, feeds=feeds)
    ).plan
    assert [(feed.name, feed.launcher) for feed in plan.feeds] == [("deep", 0), ("wide", 1)]
    assert [step.feed for step in plan.steps[:2]] == [0, 1]
    twice = said.TogetherStatement(
        stations=(station("n", "north", send()), station("s", "south", send())), span=at(8)
    )
    shown = steps(show(), twice, launchers=TWO, group=FIVE)[:2]
    assert [step.feed for step in shown] == [0, 1]


def test_a_group_that_rotates_over_stations_is_everywhere_once():
    both = said.TogetherStatement(
        stations=(station("n", "north", send()), station("s", "south", send())), span=at(8)
    )
    turn = said.RotateStatement(every_s=60.0, every_balls=None, body=(both,), span=at(9))
    rounds = steps(turn, launchers=TWO, group=FIVE)
    assert [r.for_s for r in rounds] == [60.0, 60.0]
    met = [{p: s.name for s in r.stations for p in s.players} for r in rounds]
    assert all({met[0][p], met[1][p]} == {"n", "s"} for p in range(5))
    # Three stand at one station, and each has a third of the minute; so has each of the two.
    assert {(s.body[0].slots, s.body[0].passes, s.body[0].every_s) for s in rounds[0].stations} == {
        (3, 5, 20.0),
        (2, 5, 20.0),
    }


def test_a_station_that_nobody_stands_at_sends_nothing():
    both = said.TogetherStatement(
        stations=(station("n", "north", send()), station("s", "south", send())), span=at(8)
    )
    (lowered,) = steps(both, launchers=TWO, group=GroupDecl(players=1))
    assert [s.name for s in lowered.stations] == ["n"]


def test_collecting_speeds_and_stations_do_not_stand_in_stations():
    inner = said.TogetherStatement(stations=(station("i", "south", send()),), span=at(8))
    body = (said.CollectStatement(span=at(9)), show(), inner)
    both = said.TogetherStatement(stations=(station("n", "north", *body),), span=at(8))
    assert slugs(both, launchers=TWO) == ["station-step"] * 3


def test_a_step_from_another_file_belongs_to_the_line_that_called_it():
    foreign = said.RestStatement(
        seconds=1.0,
        span=Span("library.feed", 77, 1, 77, 9),
        calls=(at(12),),
    )
    assert steps(foreign)[0].line == 12
