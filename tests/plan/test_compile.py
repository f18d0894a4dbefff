"""A program compiled: what its feeds come to, and what is reported."""

from __future__ import annotations

import re

import msgspec
import pytest

from feedscript.court.lines import COURTS
from feedscript.flight.aim.aiming import Targets, aim
from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import fly
from feedscript.language.program import (
    BallsDecl,
    Contact,
    CourtDecl,
    GroupDecl,
    LauncherDecl,
    Variation,
)
from feedscript.launcher.kinematics import natural_spin, throw_of
from feedscript.launcher.profile.drives import OneWheel
from feedscript.launcher.profile.read_profile import parse_profile
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.aiming.shots import VARIANTS
from feedscript.plan.canonical import canonical_bytes, settled
from tests.launcher.examples import garage, garage_with
from tests.plan.programs import at, compiled, program, rest, send, show, wish

SLICE = {"top_rpm": -900.0}


def slugs(result) -> list[str]:
    return [found.slug for found in result.diagnostics]


def test_a_feed_lands_where_it_was_wished_at_the_speed_it_was_wished():
    wishes = (wish("deep"), wish("wide", land_m=(-3.3, 9.5), speed_mps=24.0, **SLICE))
    plan = compiled(program(send(), send("wide"), feeds=wishes)).plan
    for feed, wished in zip(plan.feeds, wishes, strict=True):
        assert feed.landing_m == pytest.approx(wished.land_m, abs=2e-4)
        assert feed.speed_mps == pytest.approx(wished.speed_mps, abs=1e-6)
        assert feed.top_rpm == wished.top_rpm


def test_a_settled_feed_flies_as_the_plan_says():
    result = compiled(program(send(), feeds=(wish(top_rpm=700.0),)))
    feed, launcher = result.plan.feeds[0], result.plan.launchers[0]
    conditions = conditions_for(result.plan.court, result.plan.balls, garage())
    x_m, y_m, z_m = launcher.mouth_m
    launches = Launches.of(
        feed.speed_mps,
        feed.elevation_deg,
        feed.azimuth_deg,
        top_rpm=feed.top_rpm,
        side_rpm=feed.side_rpm,
        x_m=x_m,
        y_m=y_m,
        z_m=z_m,
    )
    flight = fly(launches.thrown_by_wheels(), conditions)
    assert flight.landing_y_m[0] == pytest.approx(feed.landing_m[1], abs=1e-5)
    assert flight.flight_s[0] == pytest.approx(feed.flight_s, abs=1e-5)
    net = COURTS[result.plan.court.kind].net.height_m(flight.net_x_m[0])
    under = flight.net_height_m[0] - conditions.ball.radius_m - net
    assert under == pytest.approx(feed.net_clearance_m, abs=1e-5)


def test_the_setting_on_the_wires_grid_gives_the_feed_to_within_its_steps():
    feed = compiled(program(send(), feeds=(wish(top_rpm=700.0),))).plan.feeds[0]
    throw = throw_of(garage(), feed.setting)
    # Half a revolution a minute of a 0.2 m wheel is about 5 mm/s; half of 0.01 degrees.
    assert throw.speed_mps == pytest.approx(feed.speed_mps, abs=0.006)
    assert throw.elevation_deg == pytest.approx(feed.elevation_deg, abs=0.00501)
    assert throw.top_rpm == pytest.approx(feed.top_rpm, abs=3.0)


def test_a_feed_by_apex_time_or_contact_comes_to_what_was_wished():
    wishes = (
        wish("lob", apex_m=5.0),
        wish("float", flight_s=1.5),
        wish("drive", contact=Contact(height_m=1.0, behind_bounce_m=2.0)),
    )
    steps = [send(each.name) for each in wishes]
    lob, floated, _ = compiled(program(*steps, feeds=wishes)).plan.feeds
    assert lob.apex_m == pytest.approx(5.0, abs=1e-3)
    assert floated.flight_s == pytest.approx(1.5, abs=1e-3)


def test_a_contact_point_needs_a_surface():
    feeds = (wish("drive", contact=Contact(height_m=1.0, behind_bounce_m=2.0)),)
    result = compiled(program(send("drive"), feeds=feeds, court=CourtDecl()))
    assert slugs(result) == ["unknown-bounce"]
    assert result.plan is None


# What brings a feed in is computed: written into the program, it does bring it in.


@pytest.mark.parametrize("speed_mps", [12.0, 16.0, 17.0])
def test_the_speed_that_the_message_names_brings_a_short_feed_in(speed_mps):
    result = compiled(program(send(), feeds=(wish(speed_mps=speed_mps),)))
    assert slugs(result) == ["out-of-reach"]
    assert result.unsound == {0}
    named = float(re.search(r"`speed ([\d.]+) km/h` or more", result.diagnostics[0].help)[1])
    assert slugs(compiled(program(send(), feeds=(wish(speed_mps=named / 3.6),)))) == []
    below = named / 3.6 - 0.1
    assert slugs(compiled(program(send(), feeds=(wish(speed_mps=below),)))) == ["out-of-reach"]


@pytest.mark.parametrize("x_m", [-3.0, 0.0, 2.0])
def test_the_place_that_the_message_names_is_in_reach_and_the_miss_is_what_is_left(x_m):
    far = wish(land_m=(x_m, 9.9), speed_mps=16.5)
    result = compiled(program(send(), feeds=(far,)))
    words = result.diagnostics[0].help
    y_m = float(re.search(r"`land ([\d.]+) m from net", words)[1])
    side = re.search(r"([\d.]+) m to (ad|deuce) of centre line", words)
    named_x = float(side[1]) * (1 if side[2] == "ad" else -1) if side else 0.0
    near = wish(land_m=(named_x, y_m), speed_mps=16.5)
    assert slugs(compiled(program(send(), feeds=(near,)))) == []
    miss = float(re.search(r"at best ([\d.]+) m short", result.diagnostics[0].message)[1])
    mouth_x, mouth_y, _ = result.plan.launchers[0].mouth_m
    way = ((x_m - mouth_x) ** 2 + (9.9 - mouth_y) ** 2) ** 0.5
    reached = ((named_x - mouth_x) ** 2 + (y_m - mouth_y) ** 2) ** 0.5
    assert way - reached == pytest.approx(miss, abs=0.1)


def test_a_fast_ball_onto_a_near_place_flies_past_it_and_slower_is_named():
    # From a mouth 3 m up, thrown 15 degrees down, this still lands past the net's foot.
    launcher = LauncherDecl(mouth_m=3.0, stands_m=(0.0, -6.0))
    result = compiled(
        program(send(), feeds=(wish(land_m=(0.0, 1.6), speed_mps=30.0),), launchers=(launcher,))
    )
    assert slugs(result) == ["out-of-reach"]
    assert "past its place" in result.diagnostics[0].message
    named = float(re.search(r"`speed ([\d.]+) km/h` or less", result.diagnostics[0].help)[1])
    slower = wish(land_m=(0.0, 1.6), speed_mps=named / 3.6)
    assert slugs(compiled(program(send(), feeds=(slower,), launchers=(launcher,)))) == []


@pytest.mark.parametrize("least", [-15.0, -18.0, -20.0, -45.0])
def test_a_launcher_is_aimed_as_far_down_as_it_points_and_no_further(least):
    """30 m/s from 3 m up onto a place 7.6 m away: 21 degrees down, less the 0.3 m that it falls."""
    launcher = LauncherDecl(mouth_m=3.0, stands_m=(0.0, -6.0))
    profile = parse_profile(garage_with("elevation_deg", f"[{least}, 45.0]"), "steep.toml").profile
    near = wish(land_m=(0.0, 1.6), speed_mps=30.0)
    result = compiled(program(send(), feeds=(near,), launchers=(launcher,)), profile=profile)
    if least >= -18.0:
        assert slugs(result) == ["out-of-reach"]
        assert f"from {least:g} to 45 degrees" in result.diagnostics[0].message
    else:
        assert slugs(result) == []
        assert -20.0 < result.plan.feeds[0].elevation_deg < -18.0


def test_an_apex_is_sought_where_the_launcher_points():
    low = parse_profile(garage_with("elevation_deg", "[-4.0, 20.0]"), "low.toml").profile
    assert slugs(compiled(program(send("lob"), feeds=(wish("lob", apex_m=6.0),)))) == []
    result = compiled(program(send("lob"), feeds=(wish("lob", apex_m=6.0),)), profile=low)
    assert slugs(result) == ["out-of-reach"]
    named = float(re.search(r"`apex ([\d.]+) m`", result.diagnostics[0].help)[1])
    lower = program(send("lob"), feeds=(wish("lob", apex_m=named),))
    assert slugs(compiled(lower, profile=low)) == []


def test_a_speed_that_the_launcher_cannot_give_is_not_named():
    far = wish(land_m=(0.0, 11.0), speed_mps=16.0, top_rpm=3000.0)
    weak = parse_profile(garage_with("speed_mps", "[8.0, 17.0]"), "weak.toml").profile
    result = compiled(program(send(), feeds=(far,)), profile=weak)
    assert "speed" not in result.diagnostics[0].help.replace("keep the speed", "")


def test_an_apex_that_no_throw_has_is_refused_with_what_can_be_had():
    result = compiled(program(send("lob"), feeds=(wish("lob", apex_m=0.5),)))
    assert slugs(result) == ["out-of-reach"]
    named = float(re.search(r"`apex ([\d.]+) m`", result.diagnostics[0].help)[1])
    assert slugs(compiled(program(send("lob"), feeds=(wish("lob", apex_m=named),)))) == []


def test_a_spin_that_the_head_cannot_give_is_reported_at_the_feed():
    result = compiled(program(send(), feeds=(wish(side_rpm=500.0, line=3),)))
    assert slugs(result) == ["cannot-throw"]
    assert result.diagnostics[0].span.line == 3
    assert result.plan is not None
    assert result.unsound == {0}


def test_every_feed_out_of_reach_is_reported_at_once():
    feeds = (wish("a", line=1, speed_mps=12.0), wish("b"), wish("c", line=3, speed_mps=13.0))
    assert slugs(compiled(program(send("a"), send("b"), send("c"), feeds=feeds))) == [
        "out-of-reach",
        "out-of-reach",
    ]


def test_feeds_that_share_the_words_at_fault_share_one_report():
    speed = {"speed": at(3)}
    feeds = (
        wish("deep", speed_mps=12.0, spans=speed),
        wish("other", speed_mps=12.0, land_m=(1.0, 9.9), spans=speed),
    )
    result = compiled(program(send(), send("other"), feeds=feeds))
    assert slugs(result) == ["out-of-reach"]
    assert "`deep`" in result.diagnostics[0].message
    assert "`other`" in result.diagnostics[0].message
    assert result.unsound == {0, 1}


def test_a_varied_feed_out_of_reach_is_reported_once():
    varied = wish(speed_mps=12.0, vary=Variation(place_m=0.3))
    result = compiled(program(send(), feeds=(varied,)))
    assert slugs(result) == ["out-of-reach"]
    assert "the same words" not in result.diagnostics[0].message


def test_a_ball_nobody_knows_and_air_that_cannot_be_are_reported():
    assert slugs(compiled(program(send(), balls=BallsDecl(kind="type 9")))) == ["unknown-ball"]
    assert slugs(compiled(program(send(), court=CourtDecl(altitude_m=64_000.0)))) == [
        "impossible-air"
    ]


def test_thin_air_and_another_ball_are_flown_as_declared():
    def elevation(**given) -> float:
        return compiled(program(send(), **given)).plan.feeds[0].elevation_deg

    usual = elevation()
    assert elevation(court=CourtDecl(altitude_m=2000.0)) < usual
    assert elevation(balls=BallsDecl(kind="stage orange")) > usual


def test_tuned_drag_is_flown():
    # Calibration multiplies the model's drag: more drag is thrown higher.
    tuned = parse_profile(garage_with("drag_factor", "1.2"), "tuned.toml").profile
    dragged = compiled(program(send()), profile=tuned).plan.feeds[0]
    assert dragged.elevation_deg > compiled(program(send())).plan.feeds[0].elevation_deg + 1.0


def test_a_varied_feed_becomes_so_many_balls_within_its_bounds():
    vary = Variation(place_m=0.5, speed_mps=1.0)
    result = compiled(program(send(), feeds=(wish(vary=vary),)))
    feeds = result.plan.feeds
    assert len(feeds) == VARIANTS == len({feed.name for feed in feeds})
    assert {feed.wish for feed in feeds} == {"deep"}
    for feed in feeds:
        x_m, y_m = feed.landing_m
        assert (x_m**2 + (y_m - 9.9) ** 2) ** 0.5 <= 0.5 + 1e-3
        assert 24.0 <= feed.speed_mps <= 26.0
    assert result.plan.steps[0].feeds == tuple(range(VARIANTS))


def test_another_seed_draws_other_variants_and_the_same_seed_the_same():
    whole = program(send(), feeds=(wish(vary=Variation(place_m=0.5)),))
    one, same, other = (compiled(whole, seed=seed).plan for seed in (3, 3, 4))
    assert canonical_bytes(one) == canonical_bytes(same)
    assert one.feeds != other.feeds


def test_a_compiled_plan_is_what_its_file_says():
    plan = compiled(program(show(), send(), rest(1.2345678))).plan
    assert settled(plan) == plan
    assert msgspec.json.decode(canonical_bytes(plan), type=type(plan)) == plan


def test_the_bounds_of_the_plan_are_those_of_its_steps():
    plan = compiled(program(show(), send(), rest(2.5), send())).plan
    assert plan.bounds.balls == (3, 3)
    assert plan.bounds.time_s == (10.5, 10.5)
    assert plan.bounds.fastest_mps == pytest.approx(25.0)


def test_a_launcher_that_faces_aside_pans_back():
    straight = compiled(program(send())).plan.feeds[0]
    turned = compiled(program(send(), launchers=(LauncherDecl(facing_deg=5.0),))).plan.feeds[0]
    assert turned.azimuth_deg == straight.azimuth_deg
    assert turned.setting.pan_deg == pytest.approx(straight.setting.pan_deg - 5.0, abs=0.011)


def test_a_launcher_whose_spin_follows_from_its_speed_aims_with_that_spin():
    drive = garage().drive
    wheel = OneWheel(
        wheel_diameter_m=drive.wheel_diameter_m,
        gap_m=drive.gap_m,
        slip=drive.slip,
        wheel_rpm=drive.wheel_rpm,
        wheel_deg=180.0,
        rolling_share=0.4,
        response=drive.response,
    )
    one_wheel = msgspec.structs.replace(garage(), drive=wheel)
    for feeds in ((wish(),), (wish(apex_m=4.0),)):
        result = compiled(program(send(), feeds=feeds), profile=one_wheel)
        assert slugs(result) == []
        feed = result.plan.feeds[0]
        assert feed.top_rpm == pytest.approx(natural_spin(wheel, feed.speed_mps)[0], abs=0.01)
        assert feed.top_rpm < -100.0


def test_players_are_named_and_the_last_are_the_left_handers():
    plan = compiled(program(send(), group=GroupDecl(players=3, left_handed=1))).plan
    assert [(p.name, p.left_handed) for p in plan.group.players] == [
        ("player 1", False),
        ("player 2", False),
        ("player 3", True),
    ]


def test_an_aim_is_what_flight_alone_would_find():
    feed = compiled(program(send())).plan.feeds[0]
    conditions = conditions_for(
        compiled(program(send())).plan.court, compiled(program(send())).plan.balls, garage()
    )
    aims = aim(Targets.of(0.0, 9.9, 25.0, mouth_y_m=-12.8872, mouth_z_m=0.95), conditions)
    assert feed.elevation_deg == pytest.approx(float(aims.elevation_deg[0]), abs=1e-6)
