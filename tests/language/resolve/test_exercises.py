"""Exercises: what is read of them, and where they may stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.language import program as p
from feedscript.language.resolve.loading import load_beside
from feedscript.language.resolve.read_program import read_program
from feedscript.memo import Memo

HEAD = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage.toml" }
group { 2 players }
feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }
"""
SEND = "send deep after 5 s"


def read(lesson: str, more: str = ""):
    text = f"{HEAD}{more}\nlesson {{ show speed of deep\n{lesson} }}\n"
    return read_program(text, "lesson.feed", load_beside(Path("lesson.feed"), None), Memo())


def exercises(lesson: str, more: str = "") -> list[p.ExerciseStatement]:
    program, found = read(lesson, more)
    assert program is not None, found
    return [step for step in program.lesson if isinstance(step, p.ExerciseStatement)]


def test_all_that_may_be_said_of_an_exercise_arrives() -> None:
    (one,) = exercises(
        f'exercise "Depth" for 8 min, at most 3 repeats {{ aim "deep" watch "height" {SEND} }}'
    )
    assert (one.title, one.aim, one.watch) == ("Depth", "deep", "height")
    assert (one.planned_s, one.repeats, len(one.body)) == (480.0, 3, 1)
    (one,) = exercises(f'exercise "Depth" {{ harder "cones" easier "closer" {SEND} }}')
    assert (one.easier, one.harder) == ("closer", "cones")


def test_what_is_left_out_has_its_default() -> None:
    (one,) = exercises(f'exercise "Depth" {{ {SEND} }}')
    assert (one.aim, one.watch, one.planned_s, one.repeats) == ("", "", None, 1)
    assert (one.easier, one.harder) == ("", "")
    assert exercises(f'exercise "Depth" at most 0 repeats {{ {SEND} }}')[0].repeats == 0
    assert exercises(f'exercise "Depth" at most 1 repeat {{ {SEND} }}')[0].repeats == 1


def test_a_pattern_that_the_lesson_calls_can_be_an_exercise() -> None:
    (one,) = exercises("depth()", f'pattern depth() {{ exercise "Depth" {{ {SEND} }} }}')
    assert one.title == "Depth"
    assert len(one.calls) == 1


def test_called_mirrored_it_is_an_exercise_of_its_own() -> None:
    pattern = f'pattern depth() {{ exercise "Depth" {{ {SEND} }} }}'
    one, other = exercises("depth()  mirror depth()", pattern)
    assert (one.title, other.title) == ("Depth", "Depth, other side")
    (left,) = exercises("mirror depth()", pattern)
    assert left.title == "Depth, other side"
    _, found = read("mirror depth()  mirror depth()", pattern)
    assert [d.slug for d in found] == ["exercises"]


INSIDE = {
    "a repeat": ("repeat 3 {", "}"),
    "a choice": ("choose { 1: {", "} }"),
    "a shuffle": ("shuffle {", "}"),
    "an until": ("until 3 in, at most 4 {", "}"),
    "a when": ("when 3 in {", "}"),
    "a turn": ("for each player {", "}"),
    "timed turns": ("rotate group every 1 min {", "}"),
    "a station": ('together { station "a" {', "} }"),
    "an exercise": ('exercise "Outer" {', "}"),
}


@pytest.mark.parametrize("where", INSIDE)
def test_elsewhere_it_is_refused_with_a_form_that_passes(where: str) -> None:
    before, after = INSIDE[where]
    inner = f'exercise "Depth" {{ {SEND} }}'
    _, found = read(f"{before} {inner} {after}")
    assert [one.slug for one in found] == ["exercises"]
    assert 'exercise "Depth"' in found[0].help
    if where == "an exercise":
        assert read(f"{before} {SEND} {after} {inner}")[1] == ()
    else:
        assert read(f'exercise "Depth" {{ {before} {SEND} {after} }}')[1] == ()


@pytest.mark.parametrize("where", INSIDE)
def test_so_it_is_where_a_pattern_is_called_there(where: str) -> None:
    before, after = INSIDE[where]
    pattern = f'pattern depth() {{ exercise "Depth" {{ {SEND} }} }}'
    _, found = read(f"{before} depth() {after}", pattern)
    assert [one.slug for one in found] == ["exercises"]


def test_a_title_is_one_exercises_alone() -> None:
    one = f'exercise "Depth" {{ {SEND} }}'
    _, found = read(f"{one}\n{one}")
    assert [(d.slug, d.span.line, d.related[0].span.line) for d in found] == [("exercises", 10, 9)]
    assert '"Depth 2"' in found[0].help
    _, found = read("depth()  depth()", f"pattern depth() {{ {one} }}")
    assert [d.slug for d in found] == ["exercises"]
    assert "once" in found[0].help


def test_what_is_wrong_with_its_head_is_said() -> None:
    for head, slug in (
        ('exercise "A" for 3 m', "wrong-dimension"),
        ('exercise "A" at most 21 repeats', "out-of-range"),
        ('exercise " "', "exercises"),
    ):
        assert [one.slug for one in read(f"{head} {{ {SEND} }}")[1]] == [slug]
    for word in ("aim", "watch", "easier", "harder"):
        _, found = read(f'exercise "A" {{ {word} "x" {word} "y" {SEND} }}')
        assert [one.slug for one in found] == ["said-twice"]
        _, found = read(f'exercise "A" {{ {SEND} {word} "x" }}')
        assert len(found) == 1
        assert f'{{ {word} "x"  send deep' in found[0].help
    _, found = read('exercise "A" { aim "x" }')
    assert [one.slug for one in found] == ["empty-block"]
