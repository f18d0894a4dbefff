"""Steps of the lesson in another order: the same words in other places, and nothing lost."""

from __future__ import annotations

import random
from collections import Counter
from pathlib import Path

import pytest

from feedscript.editor.document import names_in
from feedscript.editor.order import Reordered, lesson_in, reordered
from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.resolve.scope import Scope
from feedscript.language.syntax import parse
from feedscript.shipped import shipped_folder
from tests.language.generated import Maker

LESSON = """feedscript 1
lesson of 60 min {
    show speed of deep   # with nobody in front

    # the first quarter
    # of an hour
    exercise "One" for 5 min {
        send deep after 5 s
    }   # one is done
    collect
    exercise "Two" {
        send deep after 6 s
    }

    break 3 min "water"
    # begins slowly
    four.four(balls = 3)
}
# the end
"""


def opened(text: str) -> Scope:
    return names_in(Path("/nowhere/x.feed"), text)[0]


def steps_of(text: str) -> list[str]:
    tree = parse(Source("", text)).tree
    lesson = next(item for item in tree.items if isinstance(item, t.Lesson))
    return [text[one.start : one.end].rstrip() for one in lesson.body.steps]


def moved(text: str, step: int, to: int) -> str:
    found = reordered(opened(text), step, to)
    assert found.change is not None, found.refused
    return found.change.made(text)


def test_exercises_change_places_and_what_lies_between_them_stays() -> None:
    assert (
        moved(LESSON, 1, 5)
        == """feedscript 1
lesson of 60 min {
    show speed of deep   # with nobody in front

    exercise "Two" {
        send deep after 6 s
    }
    collect
    # begins slowly
    four.four(balls = 3)

    break 3 min "water"
    # the first quarter
    # of an hour
    exercise "One" for 5 min {
        send deep after 5 s
    }   # one is done
}
# the end
"""
    )


def test_a_break_goes_between_any_two_steps() -> None:
    assert [one.split()[0] for one in steps_of(moved(LESSON, 4, 2))] == [
        "show", "exercise", "break", "collect", "exercise", "four.four(balls",
    ]  # fmt: skip


def test_a_step_goes_there_and_back() -> None:
    assert moved(moved(LESSON, 5, 1), 1, 5) == LESSON


@pytest.mark.parametrize(
    ("text", "step", "to", "why"),
    [
        ("feedscript 1\nlesson { rest 1 s  rest 2 s # two\n }", 1, 0, "a line of its own"),
        ("feedscript 1\nlesson { rest 1 s  rest 2 s }", 0, 0, "already"),
        ("feedscript 1\nlesson { rest 1 s  rest 2 s }", 0, 2, "no such step"),
        ("feedscript 1\nlesson { rest 1 s  rest 2 s  $ }", 0, 1, "mend the words"),
        ("feedscript 1\n", 0, 1, "no such step"),
    ],
)
def test_what_cannot_be_is_refused_in_words(text: str, step: int, to: int, why: str) -> None:
    found = reordered(opened(text), step, to)
    assert found.change is None
    assert why in found.refused


def expected(steps: list[str], kinds: list[bool], step: int, to: int) -> list[str]:
    """The order that is meant, worked out by swapping neighbours one after the other."""
    both = kinds[step] and kinds[to]
    places = [at for at in range(len(steps)) if not both or kinds[at]]
    here, there = places.index(step), places.index(to)
    found, way = [*steps], 1 if there > here else -1
    for at in range(here, there, way):
        one, other = places[at], places[at + way]
        found[one], found[other] = found[other], found[one]
    return found


def reorder(rng: random.Random, text: str) -> Reordered:
    """One random reordering of a text, held to the words that it may change."""
    scope = opened(text)
    lesson = lesson_in(scope)
    assert lesson is not None
    steps = lesson.body.steps
    step, to = rng.sample(range(len(steps)), 2)
    found = reordered(scope, step, to)
    if found.change is None:
        assert "a line of its own" in found.refused
        return found
    new = found.change.made(text)
    kinds = [isinstance(one, t.ExerciseSyntax | t.CallSyntax) for one in steps]
    assert steps_of(new) == expected(steps_of(text), kinds, step, to)
    assert Counter(new) == Counter(text)
    assert new[: lesson.body.start] == text[: lesson.body.start]
    assert new[lesson.body.end :] == text[lesson.body.end :]
    return found


def random_lesson(seed: int) -> str:
    make = Maker(seed)
    steps = "\n    ".join(make.rng.choice((make.step, make.exercise))() for _ in range(4))
    return make.shaken(f"feedscript 1\nlesson {{\n    {steps}\n}}\n{make.item()}\n")


def test_random_lessons_keep_their_words() -> None:
    rng = random.Random(3)
    done = [reorder(rng, random_lesson(seed)) for seed in range(150)]
    assert sum(one.change is not None for one in done) > 100


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_five_thousand_random_lessons_keep_their_words() -> None:
    rng = random.Random(8)
    done = [reorder(rng, random_lesson(seed)) for seed in range(10_000, 15_000)]
    assert sum(one.change is not None for one in done) > 3_000


@pytest.mark.parametrize("path", sorted(shipped_folder().glob("*.feed")), ids=lambda one: one.stem)
def test_shipped_lessons_keep_their_words(path: Path) -> None:
    rng = random.Random(path.stem)
    text = path.read_text("utf-8")
    lesson = lesson_in(opened(text))
    assert lesson is not None
    if len(lesson.body.steps) > 1:
        assert all(reorder(rng, text).change is not None for _ in range(4))
