"""The run that the desk's page plays: where each ball is and when, against others' reckoning."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import numpy as np
import pytest
from click.testing import CliRunner
from scipy.integrate import solve_ivp

from feedscript.check.check_program import Verdict, check_program
from feedscript.cli.prove.rehearse import command as rehearse
from feedscript.desk.played import Place, Played, PlayedFeed, played
from feedscript.plan.model import AimedFeed
from feedscript.shipped import shipped_folder
from feedscript.tongues.tongue import IN_ENGLISH
from tests.flight.motion.test_against_dop853 import RADIUS, slow_motion

#: The page draws a chord between two places: at most g t^2 / 8 below the ball, and a rounding.
CHORD_M = 2e-3

TWO = """feedscript 1
court { surface hard  fence 3 m high, 6 m behind baseline }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ash", "Beech"  level club }
let gap = 5 s
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm }
feed wide = deep with { land 3 m inside baseline, 1 m inside ad sideline }
lesson {
    show speed of deep
    exercise "Depth" {
        for each player {
            shuffle { send deep after gap  send wide after gap  send wide after 6 s }
            rest 10 s
        }
        say "Well played."
        break 1 min "water"
    }
    exercise "Again" {
        for each player { repeat 2 { send wide after gap vary 0.5 s }  rest 10 s }
        collect
        for each player { send deep after gap  rest 10 s }
    }
}
"""
HEAD = TWO[: TWO.index("lesson {")]


def passed(program: Path, words: str | None = None) -> Verdict:
    verdict = check_program(program, text=words)
    assert verdict.ok, verdict.diagnostics
    return verdict


def run_of(verdict: Verdict) -> Played:
    assert verdict.facts is not None
    return played(verdict.facts, "of today")


def on_the_page(places: tuple[Place, ...], share: float) -> np.ndarray:
    """Read as the page reads it: evenly in time, chords between."""
    shares = np.linspace(0, 1, len(places))
    return np.array([np.interp(share, shares, axis) for axis in np.array(places).T])


def density_kgm3(air_c: float) -> float:
    """ISO 2533: dry air at the standard pressure of sea level."""
    return 101_325 / (287.05287 * (273.15 + air_c))


def flown_anew(
    feed: AimedFeed, mouth_m: Place, times_s: np.ndarray, density_kgm3: float
) -> np.ndarray:
    """Places at these times: equations and integrator that share nothing with the product's."""
    e, a = np.radians(feed.elevation_deg), np.radians(feed.azimuth_deg)
    throw = np.array([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])
    top = np.array([-np.cos(a), np.sin(a), 0.0]) * feed.top_rpm
    spin = (top + np.array([0.0, 0.0, -1.0]) * feed.side_rpm) * 2 * np.pi / 60
    motion = slow_motion(spin, density_kgm3, np.zeros(3))
    start = np.concatenate([mouth_m, feed.speed_mps * throw])
    span = (0.0, float(times_s[-1]))
    flight = solve_ivp(motion, span, start, "DOP853", times_s, rtol=1e-9, atol=1e-10)
    return flight.y[:3].T


@pytest.mark.parametrize("program", ["wednesday-six", "friday-seven", "side-by-side"])
def test_balls_are_where_another_integrator_has_them(program: str) -> None:
    verdict = passed(shipped_folder() / f"{program}.feed")
    plan, run = verdict.plan, run_of(verdict)
    assert plan is not None
    assert (plan.court.altitude_m, plan.balls.kind) == (0, "type 2")
    shares = np.array([0.31, 0.62, 0.93])
    for told in run.feeds:
        feed = plan.feeds[told.index]
        mouth_m = plan.launchers[feed.launcher].mouth_m
        air = density_kgm3(plan.court.air_c)
        flown = flown_anew(feed, mouth_m, shares * told.flight_s, air)
        for share, place in zip(shares, flown, strict=True):
            assert on_the_page(told.path_m, share) == pytest.approx(place, abs=CHORD_M)


def test_a_ball_lands_where_it_is_aimed_and_flies_on_from_there_to_the_ground() -> None:
    run = run_of(passed(shipped_folder() / "topspin-and-slice.feed"))
    for feed in run.feeds:
        assert feed.path_m[-1][:2] == pytest.approx(feed.landing_m, abs=1e-3)
        assert feed.after_m[0] == pytest.approx(feed.path_m[-1], abs=1.5e-3)
        assert feed.after_m[-1][2] == pytest.approx(RADIUS, abs=2e-3)
        assert feed.after_s > 0


def rehearsed(path: Path) -> list[dict]:
    result = CliRunner().invoke(rehearse, [str(path), "--format", "json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)["balls"]


def test_it_is_the_lesson_that_is_rehearsed_but_for_the_time_that_people_take(
    tmp_path: Path,
) -> None:
    """Through engine, driver and wire: the same balls of the same players, as far apart."""
    path = tmp_path / "two.feed"
    path.write_text(TWO, "utf-8")
    run, balls = run_of(passed(path)), rehearsed(path)
    wishes = {feed.index: feed.wish for feed in run.feeds}
    players = [None if one.player is None else run.players[one.player] for one in run.balls]
    assert [wishes[one.feed] for one in run.balls] == [ball["feed"] for ball in balls]
    assert players == [ball["player"] for ball in balls]
    assert [one.watched for one in run.balls] == [ball["shown"] for ball in balls]
    people = [stop.begin_s for stop in run.stops] + [b.at_s for b in run.balls if b.watched]
    compared = 0
    for index in range(1, len(balls)):
        before, after = run.balls[index - 1].at_s, run.balls[index].at_s
        if not any(before <= at_s < after for at_s in people):
            apart_s = balls[index]["at_s"] - balls[index - 1]["at_s"]
            assert after - before == pytest.approx(apart_s, abs=0.02)
            compared += 1
    assert compared == 9  # of 13 balls; between the others people set up, break and collect


def test_it_tells_who_is_on_what_is_called_and_what_people_do() -> None:
    run = run_of(passed(Path("two.feed"), TWO))
    assert [(part.number, part.title) for part in run.parts] == [(1, "Depth"), (2, "Again")]
    assert [stop.words for stop in run.stops] == ["break 1 min: water", "collect"]
    assert [stop.end_s - stop.begin_s for stop in run.stops] == [60.0, 0.0]
    assert [call.words for call in run.calls] == [
        "Ash is on",
        "Beech is on",
        "Well played.",
        *["Ash is on", "Beech is on"] * 2,
    ]
    assert {run.players[stay.player] for stay in run.stays} == {"Ash", "Beech"}
    for ball in run.balls:
        on = {stay.player for stay in run.stays if stay.begin_s <= ball.at_s <= stay.end_s}
        assert ball.player is None or on == {ball.player}


def test_the_longest_lesson_is_a_small_message() -> None:
    """10,000 balls are the most of a lesson (the check's rule `too-large`)."""
    sends = "send deep after 6 s  repeat 54 { send wide after 3 s }  collect"
    lesson = f"lesson {{ show speed of deep  repeat 180 {{ {sends} }} }}"
    run = run_of(passed(Path("long.feed"), HEAD + lesson))
    assert len(run.balls) == 9_901
    assert len(msgspec.json.encode(run, enc_hook=IN_ENGLISH)) < 400_000


def few(feed: PlayedFeed) -> bool:
    return len(feed.path_m) < 20


def test_very_many_feeds_are_drawn_with_fewer_places_each() -> None:
    run = run_of(passed(shipped_folder() / "wednesday-six.feed"))
    assert not any(map(few, run.feeds))
    feeds = "\n".join(
        f"feed f{n}=wide with {{ land 3 m inside baseline, {1 + n / 100:g} m inside ad sideline }}"
        for n in range(250)
    )
    sends = " ".join(f"send f{n} after 5 s" + "  collect" * (n % 50 == 49) for n in range(250))
    words = f"{HEAD}{feeds}\nlesson {{ show speed of deep {sends} }}"
    run = run_of(passed(Path("many.feed"), words))
    assert len(run.feeds) == 251
    assert all(map(few, run.feeds))
    assert len(msgspec.json.encode(run, enc_hook=IN_ENGLISH)) < 251 * 1_000
