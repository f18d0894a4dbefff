"""Targets for the players' own shots on the picture of a program."""

from __future__ import annotations

import re
from pathlib import Path

from feedscript.check.check_program import check_program
from feedscript.review.drawing.drawn_flights import drawn_flights
from feedscript.review.drawing.picture import picture
from feedscript.review.drawing.svg import write

PROGRAM = """feedscript 1
court {{ lines singles  surface hard }}
balls {{ type 2  load 70 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ players "Ana", "Ben"  {hands} }}
feed deep {{ land 3 m inside baseline, on centre line  speed 66 km/h  spin top 900 rpm }}
lesson {{
    show speed of deep
    exercise "E" {{ target "{name}" {{ {area} }}  goal 1 of 2 in target
        for each player {{ repeat 2 {{ send deep after 5 s }}  rest 12 s }} }}
}}
"""


def drawn(name: str = "deep cross", area: str = "area ad backcourt", hands: str = "") -> str:
    text = PROGRAM.format(name=name, area=area, hands=hands)
    verdict = check_program(Path("lesson.feed"), text=text)
    assert verdict.plan is not None, verdict.diagnostics
    assert verdict.facts is not None
    flights = drawn_flights(verdict.facts)
    return write(picture(verdict.plan, flights))


def test_a_target_is_drawn_to_scale_with_its_name() -> None:
    svg = drawn()
    (points,) = re.findall(r'<polygon points="([^"]+)" fill="url\(#target\)"', svg)
    assert 'id="target"' in svg
    assert ">deep cross</text>" in svg
    assert "<title>target: deep cross</title>" in svg
    xs = [float(one.split(",")[0]) for one in points.split()]
    # A singles backcourt is 18 ft deep (ITF Rules of Tennis, Rule 1: 39 less 21 ft).
    lines = [float(x) for x in re.findall(r'<line x1="([0-9.]+)"', svg)]
    assert max(xs) - min(xs) > 0.15 * (max(lines) - min(lines))


def test_a_name_that_does_not_fit_is_a_title_only() -> None:
    svg = drawn(name="a very long name of a target that nobody would ever call so on court at all")
    assert "<title>target: a very long name" in svg
    assert ">target</text>" in svg


def test_a_target_of_two_areas_and_one_for_each_hand_are_all_drawn() -> None:
    assert drawn(area="area ad box  area deuce box").count("url(#target)") == 2
    svg = drawn(area="area forehand backcourt", hands='left-handed "Ben"')
    assert svg.count("url(#target)") == 2
    assert "target: deep cross (left-handed)" in svg


def test_without_a_target_nothing_of_it_is_drawn() -> None:
    text = PROGRAM.format(name="x", area="area ad box", hands="")
    text = re.sub(r"target .*target", "", text)
    verdict = check_program(Path("lesson.feed"), text=text)
    assert verdict.plan is not None
    assert "target" not in write(picture(verdict.plan, drawn_flights(verdict.facts)))
