"""What the hour will hold, against sums made otherwise: by hand, and from a run's own actions."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings

from feedscript.check.as_json import verdict_json
from feedscript.check.as_text import report
from feedscript.check.certificate_file import page_for
from feedscript.check.check_program import Verdict, check_program
from feedscript.check.hour import ARM_S, WATCH_S, hour_of
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.interpreter.actions import Ask, PickUp, SendBall, WatchSpeed
from feedscript.plan.interpreter.runs import run_through
from tests.plan.random_plans import exercises

FILTERED = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]

PROGRAM = """feedscript 1
court {{ lines singles  surface hard }}
balls {{ type 2  load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ 3 players }}
feed deep {{ land 3 m inside baseline, on centre line  speed 66 km/h  spin top 300 rpm }}
lesson{of} {{
    show speed of deep
    exercise "Depth" for 4 min {{
        for each player {{ repeat 6 {{ send deep after 5 s }}  rest 12 s }}
    }}
    break 3 min "water"
    exercise "Short" {{
        repeat 6 {{ send deep after 5 s }}
        collect
        repeat 4 {{ send deep after 5 s }}
    }}
}}
"""


def checked(of: str) -> Verdict:
    return check_program(Path("lesson.feed"), text=PROGRAM.format(of=of))


def test_the_hour_of_a_lesson_is_what_one_adds_up_by_hand() -> None:
    verdict = checked(" of 20 min")
    assert verdict.ok, verdict.diagnostics
    hour = verdict.hour
    assert hour is not None
    # 18 balls in turns and 10 outside, each 5 s after the last; two change-overs of 12 s of
    # rest and 5 s to the ball, less the last ball's flight.
    flight_s = verdict.plan.feeds[0].flight_s
    assert hour.change_overs_s == pytest.approx(2 * (12 + 5 - flight_s), abs=0.01)
    assert hour.play_s == pytest.approx(18 * 5 + 3 * 12 + 10 * 5 - hour.change_overs_s, abs=0.01)
    assert hour.breaks_s == 180.0
    assert hour.people_s == 3 * ARM_S + WATCH_S
    # The break is longer than picking up 19 balls takes; 6 and 4 balls are picked up by 4 people.
    far_m = 11.885 + 1.0 + 11.885 - 3.0
    assert hour.collecting_s == pytest.approx(2 * 3 + 1 * 3 + 2 * 2 * far_m / 1.2, abs=1.5)
    depth, short = hour.exercises
    assert (depth.title, depth.planned_s, short.planned_s) == ("Depth", 240.0, None)
    assert depth.takes_s == pytest.approx(18 * 5 + 3 * 12)
    assert hour.spare_s == pytest.approx(240 - depth.takes_s)
    told = hour.play_s + hour.change_overs_s + hour.collecting_s + hour.people_s
    assert hour.whole_s == pytest.approx(told + hour.breaks_s + hour.spare_s)


def test_text_json_and_page_say_it() -> None:
    verdict = checked(" of 20 min")
    text = report(verdict, "lesson.feed")
    assert "of 20 min planned: play" in text
    assert "1. Depth: 2 min 6 s, planned 4 min" in text
    plain = verdict_json(verdict)["hour"]
    assert plain["whole_s"] == verdict.hour.whole_s
    assert [one["title"] for one in plain["exercises"]] == ["Depth", "Short"]
    assert "<h2>The hour</h2>" in page_for(".html", verdict)
    assert "<li>Depth: 2 min 6 s, planned 4 min</li>" in page_for(".html", verdict)


def test_a_lesson_more_than_a_tenth_too_long_is_told_what_could_go() -> None:
    whole_s = checked(" of 20 min").hour.whole_s
    fits = checked(f" of {whole_s / 1.09:.0f} s")
    assert "long-hour" not in [one.slug for one in fits.diagnostics]
    found = [
        one for one in checked(f" of {whole_s / 1.12:.0f} s").diagnostics if one.slug == "long-hour"
    ]
    assert len(found) == 1
    assert not found[0].is_error
    assert '"Short"' in found[0].help
    (long,) = [one for one in checked(" of 5 min").diagnostics if one.slug == "long-hour"]
    assert '"Depth" (4 min)' in long.help
    assert (long.span.line, long.span.column) == (7, 11)


def test_a_lesson_without_a_length_and_exercises_says_nothing_of_the_hour() -> None:
    text = PROGRAM.format(of="").split("    exercise")[0] + "    send deep after 5 s\n}\n"
    verdict = check_program(Path("lesson.feed"), text=text)
    assert verdict.ok
    assert verdict.hour is None
    assert "The hour" not in report(verdict, "lesson.feed")


def test_a_block_with_a_time_runs_as_often_as_its_longest_run_fits() -> None:
    def balls(step: str) -> tuple[int, int]:
        text = PROGRAM.format(of="").split("    exercise")[0] + f"    {step}\n}}\n"
        verdict = check_program(Path("lesson.feed"), text=text)
        assert verdict.ok, verdict.diagnostics
        return verdict.plan.bounds.balls

    assert balls("for 1 min { send deep after 5 s }") == (13, 13)
    assert balls("for 59 s { send deep after 5 s }") == (12, 12)
    assert balls("for 1 min { send deep after 5 s vary 1 s }") == (11, 11)
    assert balls("for 1 min { choose { 1: send deep after 5 s  1: rest 20 s } }") == (1, 4)


@pytest.mark.parametrize(
    ("step", "offered"),
    [
        ("for 4 s { send deep after 5 s }", "for 5 s"),
        ("for 30 s { repeat 6 { send deep after 5 s vary 1 s } }", "for 36 s"),
        ('for 1 min { say "Go" }', "repeat 6"),
    ],
)
def test_a_block_that_does_not_fit_even_once_is_refused_with_the_least_that_fits(
    step: str, offered: str
) -> None:
    text = PROGRAM.format(of="").split("    exercise")[0] + f"    {step}\n}}\n"
    found = [
        one for one in check_program(Path("lesson.feed"), text=text).diagnostics if one.is_error
    ]
    assert [one.slug for one in found] == ["time-too-short"]
    assert f"`{offered}" in found[0].help


@settings(max_examples=100, suppress_health_check=FILTERED)
@given(exercises())
def test_the_parts_add_up_to_the_longest_run_and_what_people_take(whole):
    whole = msgspec.structs.replace(whole, bounds=bounds(whole))
    hour = hour_of(whole)
    run = list(run_through(whole, lambda action: False if isinstance(action, Ask) else None))
    assert hour.play_s + hour.change_overs_s + hour.breaks_s >= whole.bounds.time_s[1] - 1e-6
    assert hour.breaks_s == pytest.approx(sum(a.break_s or 0 for a in run if isinstance(a, PickUp)))
    arms = 1 + sum(isinstance(one, PickUp) for one in run)
    shown = sum(isinstance(one, WatchSpeed) for one in run)
    assert hour.people_s == arms * ARM_S + shown * WATCH_S
    assert min(hour.play_s, hour.change_overs_s, hour.collecting_s, hour.spare_s) >= 0.0
    if not any(isinstance(one, SendBall | WatchSpeed) for one in run):
        assert hour.collecting_s == 0.0
