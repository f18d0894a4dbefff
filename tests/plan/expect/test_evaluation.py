"""Expectations of small programs: met, not met with a figure and an example, or undecided."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.check.expected import drawing_of
from feedscript.diagnostics import Span
from feedscript.flight.motion.flights import land
from feedscript.language import program as said
from feedscript.language.program import Compare, GroupDecl, Measure
from feedscript.launcher.scatter import share_inside
from feedscript.plan.expect.draws import drawn_balls, normals
from feedscript.plan.expect.evaluation import evaluate, written
from feedscript.plan.expect.outcome import ExpectationStanding, Outcome
from feedscript.plan.interpreter.chance import stream
from feedscript.safety.analysis.plan_facts import PlanFacts
from tests.launcher.examples import garage
from tests.plan.programs import at, compiled, program, rest, send, show, wish

FAILS, PASSES, UNSURE = (
    ExpectationStanding.FAILS,
    ExpectationStanding.PASSES,
    ExpectationStanding.INCONCLUSIVE,
)
HERE = at(20)


def outcome(expectation, *steps, draws: int = 2000, seed: int = 1, **given) -> Outcome:
    whole = program(*steps, **given)
    result = compiled(whole)
    assert result.plan is not None
    facts = PlanFacts(result.plan, (garage(),) * len(whole.launchers))
    drawing = drawing_of(facts, draws, seed)
    return evaluate(expectation, whole, drawing)


def bound(measure: Measure, compare: str, value: float) -> said.Bound:
    return said.Bound(measure=measure, compare=Compare(compare), value=value, span=HERE)


EITHER = said.ChooseStatement(
    options=(
        said.OptionStatement(weight=1, body=(send(),), span=HERE),
        said.OptionStatement(weight=1, body=(send(), send()), span=HERE),
    ),
    span=HERE,
)


@pytest.mark.parametrize(
    ("compare", "value", "standing"),
    [
        ("<=", 3, PASSES),
        ("<=", 2, FAILS),
        (">=", 2, PASSES),
        (">=", 3, FAILS),
        ("<", 3, FAILS),
        ("<", 4, PASSES),
        (">", 1, PASSES),
        (">", 2, FAILS),
        ("=", 3, FAILS),
    ],
)
def test_balls_of_every_run_are_held_to_the_bound(compare, value, standing):
    found = outcome(bound(Measure.BALLS, compare, value), show(), EITHER)
    assert (found.standing, found.figure) == (standing, "2 to 3 balls")


def test_a_bound_that_fails_comes_with_the_seed_of_a_run_that_breaks_it():
    found = outcome(bound(Measure.BALLS, "<=", 1), EITHER)
    assert found.counter_example.ball == 2
    kept = outcome(bound(Measure.BALLS, "<=", 1), EITHER, seed=found.counter_example.seed)
    assert kept.counter_example == found.counter_example


def test_time_fastest_and_rest_are_bounded():
    steps = (send(after_s=4), rest(4))
    assert outcome(bound(Measure.TIME, "=", 8.0), *steps).standing is PASSES
    assert outcome(bound(Measure.FASTEST, "<=", 25.0), *steps).standing is PASSES
    assert outcome(bound(Measure.FASTEST, "<", 25.0), *steps).standing is FAILS
    assert outcome(bound(Measure.REST, ">=", 0.5), *steps).standing is PASSES
    found = outcome(bound(Measure.REST, ">", 0.51), *steps)
    assert (found.standing, found.figure) == (FAILS, "50.0 % rest")


def test_the_net_is_cleared_as_aimed():
    high = said.ClearsNet(feed="deep", by_m=0.5, span=HERE)
    assert outcome(high, send()).standing is PASSES
    found = outcome(said.ClearsNet(feed=None, by_m=3.0, span=HERE), show(), send())
    assert found.standing is FAILS
    assert (found.counter_example.seed, found.counter_example.ball) == (1, 1)


#: With topspin: at no spin at all the drag model has a kink, and no linear answer is right there.
SPUN = (wish(top_rpm=900.0),)


def within(share: float, within_m: float) -> said.LandsWithin:
    return said.LandsWithin(feed="deep", share=share, within_m=within_m, span=HERE)


def true_share(within_m: float) -> float:
    """The share by linear propagation of the same dispersion: another way to the same number."""
    ellipse = compiled(program(send(), feeds=SPUN)).plan.feeds[0].scatter
    return share_inside(within_m, np.diag([ellipse.major_m**2, ellipse.minor_m**2]))


@pytest.mark.parametrize("within_m", [0.3, 0.5, 0.8])
def test_the_share_of_balls_near_the_place_is_that_of_the_dispersion(within_m):
    # The linear share errs by the flight's curvature, under one point here.
    low, high = outcome(within(0.5, within_m), send(), feeds=SPUN, draws=20_000).interval
    assert low - 0.01 <= true_share(within_m) <= high + 0.01


def test_a_share_passes_fails_or_is_undecided_by_its_interval():
    share = true_share(0.5)
    assert outcome(within(share - 0.06, 0.5), send(), feeds=SPUN).standing is PASSES
    found = outcome(within(share + 0.06, 0.5), send(), feeds=SPUN)
    assert found.standing is FAILS
    assert outcome(within(share, 0.5), send(), feeds=SPUN).standing is UNSURE
    assert outcome(within(share - 0.06, 0.5), send(), feeds=SPUN, draws=10).standing is UNSURE


def test_a_ball_that_strays_is_named_and_can_be_drawn_again():
    found = outcome(within(0.999, 0.5), send())
    ball = found.counter_example.ball
    again = outcome(within(0.999, 0.5), send(), draws=ball)
    assert again.counter_example == found.counter_example
    other = outcome(within(0.999, 0.5), send(), seed=2)
    assert other.counter_example != found.counter_example


def test_drawn_balls_stray_by_the_profiles_dispersion():
    result = compiled(program(send(), feeds=SPUN))
    drawing = drawing_of(PlanFacts(result.plan, (garage(),)), 20_000, 3)
    balls = drawn_balls(drawing, result.plan.feeds[0])
    spread = garage().dispersion
    # A standard deviation from 20,000 balls is right to 0.5 %, one sigma: three are allowed.
    assert balls.elevation_deg.std() == pytest.approx(spread.elevation_deg, rel=0.015)
    assert balls.speed_mps.std() == pytest.approx(spread.speed_share * 25.0, rel=0.015)
    assert balls.top_rpm.std() == pytest.approx(spread.spin_rpm, rel=0.015)
    landed = land(balls, drawing.conditions(result.plan.feeds[0]))
    assert landed.landing_y_m.std() == pytest.approx(result.plan.feeds[0].scatter.major_m, rel=0.03)


def test_normal_numbers_are_normal_by_kolmogorov_and_smirnov():
    from scipy.stats import kstest

    drawn = normals(stream(5, "normal"), 4000, 5)
    assert kstest(drawn.reshape(-1), "norm").pvalue > 1e-4
    assert abs(np.corrcoef(drawn.T) - np.eye(5)).max() < 0.08


def test_more_draws_begin_with_the_same_draws():
    few, many = (normals(stream(5, "x"), rows, 5) for rows in (7, 100))
    assert np.array_equal(few, many[:7])


def arrives(low_m: float, high_m: float, *, aimed: bool = False) -> said.ArrivesBetween:
    return said.ArrivesBetween(feed="deep", low_m=low_m, high_m=high_m, aimed=aimed, span=HERE)


def test_the_height_at_the_receiver_is_after_the_bounce():
    feeds = (wish(receiver_m=(0.0, 12.5)),)
    found = outcome(arrives(0.3, 1.5), send(), feeds=feeds)
    assert found.standing is PASSES
    low, high = map(float, found.figure.split(" m ")[0].split(" to "))
    aimed = outcome(arrives(0.3, 1.5, aimed=True), send(), feeds=feeds)
    height = float(aimed.figure.split(" m ")[0])
    assert low < height < high
    contact = said.Contact(height_m=height, behind_bounce_m=2.6)
    other = compiled(program(send(), feeds=(wish(contact=contact),))).plan.feeds[0]
    # Asking for that very contact finds the same throw again.
    assert other.speed_mps == pytest.approx(25.0, abs=0.3)
    assert outcome(arrives(2.5, 3.0), send(), feeds=feeds).standing is FAILS


def test_a_height_that_cannot_be_told_fails_and_says_why():
    assert "receiver" in outcome(arrives(0.3, 1.5), send()).figure
    bare = outcome(
        arrives(0.3, 1.5), send(), feeds=(wish(receiver_m=(0.0, 12.5)),), court=said.CourtDecl()
    )
    assert (bare.standing, "surface" in bare.figure) == (FAILS, True)


def inside(*outline: tuple[float, float]) -> said.BouncesInside:
    return said.BouncesInside(feed="deep", area="the box", outline_m=outline, span=HERE)


def test_a_feed_bounces_inside_with_its_scatter():
    wide = inside((-4, 6), (4, 6), (4, 11.9), (-4, 11.9))
    assert outcome(wide, send()).standing is PASSES
    short = inside((-4, 6), (4, 6), (4, 10.2), (-4, 10.2))
    found = outcome(short, send())
    assert found.standing is FAILS
    assert "bounces at" in found.counter_example.words
    # The ellipse reaches three standard deviations past the place: 9.9 + 3 * 0.39 m.
    reach = compiled(program(send())).plan.feeds[0].scatter.major_m * 3
    assert float(found.figure.split(" m ")[0]) == pytest.approx(9.9 + reach - 10.2, abs=0.02)


def gets(low: int, high: int) -> said.PlayerGets:
    return said.PlayerGets(low=low, high=high, span=HERE)


def turns(*body, every_s: float | None = None) -> said.RotateStatement:
    balls = None if every_s else 1
    return said.RotateStatement(every_s=every_s, every_balls=balls, body=body, span=HERE)


THREE = GroupDecl(players=3)


def test_every_players_balls_are_bounded():
    assert outcome(gets(1, 2), turns(EITHER), group=THREE).standing is PASSES
    found = outcome(gets(1, 1), turns(EITHER), group=THREE)
    assert (found.standing, found.figure) == (FAILS, "1 to 2 balls each")
    assert "gets 2 balls" in found.counter_example.words


def test_balls_outside_turns_are_nobodys_but_a_single_players():
    assert outcome(gets(2, 2), send(), send()).standing is PASSES
    assert outcome(gets(0, 0), send(), send(), group=THREE).standing is PASSES


def test_a_player_waits_from_their_last_ball_to_their_next():
    lesson = said.RepeatStatement(times=2, body=(turns(send(), every_s=7.0),), span=HERE)
    waits = said.PlayerWaits(most_s=21.0, span=HERE)
    found = outcome(waits, lesson, group=THREE)
    assert (found.standing, found.figure) == (PASSES, "player 1 waits up to 21 s")
    short = outcome(said.PlayerWaits(most_s=20.9, span=HERE), lesson, group=THREE)
    assert (short.standing, short.counter_example.ball) == (FAILS, 4)


def running(feed: str | None, most: int) -> said.Running:
    return said.Running(feed=feed, most=most, span=HERE)


def test_rows_of_one_feed_are_counted_over_every_run():
    feeds = (wish("deep"), wish("wide", land_m=(-3.0, 9.5)))
    lesson = (EITHER, send("wide"), EITHER, EITHER)
    assert outcome(running("deep", 4), *lesson, feeds=feeds).standing is PASSES
    found = outcome(running("deep", 3), *lesson, feeds=feeds)
    assert (found.standing, found.figure) == (FAILS, "4 of deep in a row")
    assert found.counter_example.words == "4 of deep in a row"
    assert outcome(running("wide", 1), *lesson, feeds=feeds).standing is PASSES
    assert outcome(running(None, 3), *lesson, feeds=feeds).standing is FAILS


def test_a_row_that_is_possible_but_never_drawn_is_undecided():
    # A row of 60 needs 30 heads running: no drawn run will show it.
    feeds = (wish("deep"), wish("wide", land_m=(-3.0, 9.5)))
    ways = (
        said.OptionStatement(weight=1, body=(send(), send()), span=HERE),
        said.OptionStatement(weight=9, body=(send("wide"),), span=HERE),
    )
    lesson = said.RepeatStatement(
        times=30, body=(said.ChooseStatement(options=ways, span=HERE),), span=HERE
    )
    found = outcome(running("deep", 40), lesson, feeds=feeds)
    assert found.standing is UNSURE
    assert "60 of deep in a row; not seen in 200 runs" in found.figure


def test_an_expectation_is_quoted_as_it_is_written():
    text = "expect {\n    95 % of deep\n      within 0.7 m\n}\n"
    whole = program(send(), sources={"lesson.feed": text})
    assert written(whole, Span("lesson.feed", 2, 5, 3, 19)) == "95 % of deep within 0.7 m"


def test_the_longest_lesson_there_may_be_is_still_drawn():
    long = said.RepeatStatement(
        times=70, body=(said.RepeatStatement(times=70, body=(EITHER,), span=HERE),), span=HERE
    )
    found = outcome(bound(Measure.BALLS, "<=", 5), long)
    assert (found.standing, found.figure) == (FAILS, "4900 to 9800 balls")
    assert found.counter_example is not None
