"""What the language accepts of court, air, balls and feeds, the flights work out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feedscript.check.check_program import check_program
from feedscript.diagnostics import Diagnostic
from feedscript.language import read
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.plan import scenery
from feedscript.plan.aiming.flying import conditions_or_why

PROGRAM = """feedscript 1
court {{ surface hard  {court} }}
balls {{ type 2  {balls} }}
feed deep {{ land 2 m inside baseline, on centre line  {feed} }}
lesson {{ show speed of deep }}
"""
PROFILE = read_profile(Path(__file__).parents[2] / "programs" / "launchers" / "garage.toml").profile

#: A line with a number in it, and numbers from far below to far above what it may be.
AIRS = {
    "altitude {} m": np.linspace(-1000, 9000, 101),
    "air {} C": np.linspace(-80, 90, 171),
    "pressure {} hPa": np.linspace(300, 1300, 101),
    "humidity {} %": np.linspace(-10, 120, 66),
    "wind head {} m/s": np.linspace(0, 60, 61),
    "altitude -500 m  air {} C": np.linspace(-80, 90, 35),
    "altitude 5000 m  air {} C": np.linspace(-80, 90, 35),
    "pressure 400 hPa  humidity 100 %  air {} C": np.linspace(-80, 90, 35),
    "pressure 1100 hPa  humidity 100 %  air {} C": np.linspace(-80, 90, 35),
}


@pytest.mark.parametrize("line", AIRS)
def test_no_air_passes_the_language_and_fails_in_flight(line: str) -> None:
    accepted = 0
    for value in AIRS[line]:
        text = PROGRAM.format(court=line.format(f"{value:.6f}"), balls="", feed="speed 66 km/h")
        program, found = read(text, "ranges.feed")
        if program is None:
            assert {one.slug for one in found if one.is_error} == {"out-of-range"}
            continue
        accepted += 1
        scene = scenery.scene(program, [PROFILE], ["garage.toml"], 0)
        conditions = conditions_or_why(scene.court, scene.balls, PROFILE)
        assert not isinstance(conditions, Diagnostic), (value, conditions)
        assert 0.3 < conditions.air.density_kgm3 < 1.8
    assert accepted


@pytest.mark.parametrize(
    "line",
    [
        "speed 3.6 km/h",
        "speed 90 m/s",
        "apex 0.2 m",
        "apex 60 m",
        "flight 0.1 s",
        "flight 15 s",
        "contact 0.1 m high, 0 m behind bounce",
        "contact 4 m high, 15 m behind bounce",
        "speed 66 km/h  spin top 6000 rpm, side ad 6000 rpm",
        "speed 66 km/h  spin back 6000 rpm",
        "speed 3.6 km/h  vary speed 15 m/s",
        "speed 66 km/h  vary place 5 m",
        "speed 66 km/h  receiver at 0 m, 0 m",
    ],
)
def test_the_ends_of_a_feeds_ranges_are_judged(line: str) -> None:
    verdict = check_program(Path("ends.feed"), text=PROGRAM.format(court="", balls="", feed=line))
    slugs = {one.slug for one in verdict.diagnostics}
    assert "check-failed" not in slugs, [one.message for one in verdict.diagnostics]
    assert "out-of-range" not in slugs


@pytest.mark.parametrize("wear", ["0 %", "100 %"])
def test_a_new_ball_and_a_bald_one_fly(wear: str) -> None:
    text = PROGRAM.format(court="", balls=f"wear {wear}", feed="speed 66 km/h")
    slugs = {one.slug for one in check_program(Path("ends.feed"), text=text).diagnostics}
    assert not slugs & {"check-failed", "out-of-range"}
