"""Numbers of the hour in their words: another one there means what was asked, nothing else."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from feedscript.editor.document import names_in
from feedscript.editor.lengths import WHOLE, Length, lengths_of, stretched
from feedscript.editor.order import lesson_in
from feedscript.editor.wanted import Choice
from feedscript.language import read
from feedscript.language.parse.source import Source
from feedscript.language.resolve.loading import load_beside
from feedscript.language.resolve.scope import Scope
from feedscript.language.syntax import parse
from feedscript.shipped import shipped_folder
from tests.editor.test_order import random_lesson

LESSON = """feedscript 1
let pause = 12 s   # a sip
let same = pause
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
pattern drive(balls: count = 6, gap: time, minutes: time = 8 min, ball: feed = deep) {
    exercise "Drive" for minutes { repeat balls { send ball after gap } }
}
lesson of 60 min {
    exercise "One" for 5 min {
        for each player { repeat 6 { send deep after 5 s }  rest pause  rest same }
        rest pause + 2 s
    }
    drive(4, gap = 5 s)   # four
    drive(gap = pause)
    break 180 s
}
"""


def opened(text: str, path: Path = Path("/nowhere/x.feed")) -> Scope:
    return names_in(path, text)[0]


def changed(text: str, choice: Choice) -> str:
    for change in sorted(choice.changes, key=lambda one: -one.start):
        text = change.made(text)
    return text


def in_words(length: Length) -> str:
    return " ".join(f"{length.before} {length.written} {length.after}".split())


def line_of(step: int, number: int, to: float, choice: int = 0) -> str:
    """The one line that is another after this."""
    found = stretched(opened(LESSON), step, number, to)
    new = changed(LESSON, found.choices[choice])
    lines = [
        now
        for before, now in zip(LESSON.splitlines(), new.splitlines(), strict=True)
        if now != before
    ]
    assert len(lines) == 1, new
    return lines[0].strip()


def test_every_number_that_says_how_long_is_found() -> None:
    scope = opened(LESSON)
    found = {step: [in_words(one) for one in lengths_of(scope, step)] for step in range(-1, 5)}
    assert found == {
        WHOLE: ["lesson of 60 min"],
        0: ["planned for 5 min", "repeat 6 times", "rest pause", "rest same", "rest pause + 2 s"],
        1: ["balls 4", "gap 5 s", "minutes 8 min"],
        2: ["balls 6", "gap pause", "minutes 8 min"],
        3: ["break 180 s"],
        4: [],
    }


def test_only_the_number_changes_in_its_own_unit() -> None:
    assert line_of(WHOLE, 0, 75) == "lesson of 75 min {"
    assert line_of(0, 0, 7.5) == 'exercise "One" for 7.5 min {'
    assert line_of(3, 0, 240) == "break 240 s"


def test_a_pattern_is_given_another_number_or_the_one_it_had_by_itself() -> None:
    assert line_of(1, 0, 5) == "drive(5, gap = 5 s)   # four"
    assert line_of(1, 2, 10) == "drive(4, gap = 5 s, minutes = 10 min)   # four"
    assert line_of(2, 0, 7) == "drive(gap = pause, balls = 7)"


def test_a_name_is_changed_or_a_number_written_here() -> None:
    found = stretched(opened(LESSON), 0, 2, 15)
    assert [one.title for one in found.choices] == [
        "write the number here",
        "change pause wherever it is used",
    ]
    assert "rest 15 s  rest same }" in line_of(0, 2, 15)
    assert line_of(0, 2, 15, choice=1) == "let pause = 15 s   # a sip"


def test_a_name_of_a_name_is_changed_where_the_number_stands() -> None:
    found = stretched(opened(LESSON), 0, 3, 15)
    assert found.choices[1].title == "change pause wherever it is used"
    assert line_of(0, 3, 15, choice=1) == "let pause = 15 s   # a sip"


@pytest.mark.parametrize(
    ("step", "number", "to", "why"),
    [
        (0, 4, 15, "`pause + 2 s` is worked out from others"),
        (0, 1, 2.5, "from 1 to 10000, whole"),
        (0, 1, 0, "from 1 to 10000, whole"),
        (0, 0, -1, "from 0.01 to 10000"),
        (0, 0, float("nan"), "from 0.01 to 10000"),
        (0, 9, 1, "no such number"),
        (9, 0, 1, "no such number"),
    ],
)
def test_what_cannot_be_is_refused_in_words(step: int, number: int, to: float, why: str) -> None:
    found = stretched(opened(LESSON), step, number, to)
    assert not found.choices
    assert why in found.refused


def tokens(text: str) -> list[str]:
    return [str(one) for one in parse(Source("", text)).tokens]


def stretch_all(rng: random.Random, text: str) -> int:
    """Every length of a text, each to a random number, held to what may change; how many."""
    tried, scope = 0, opened(text)
    lesson = lesson_in(scope)
    assert lesson is not None
    for step in range(WHOLE, len(lesson.body.steps)):
        for number, length in enumerate(lengths_of(scope, step)):
            to = float(rng.randrange(1, 300))
            if to == length.value:
                continue
            for choice in stretched(scope, step, number, to).choices:
                new = changed(text, choice)
                before, after = tokens(text), tokens(new)
                pairs = enumerate(zip(before, after, strict=False))
                at = next(place for place, (was, now) in pairs if now != was)
                # A name gives way to a number with its unit; else only the number is another.
                unit = [length.unit] * (len(after) - len(before))
                assert after[at : at + 1 + len(unit)] == [f"{to:g}", *unit], (text, new)
                assert before[:at] + before[at + 1 :] == after[:at] + after[at + 1 + len(unit) :]
                assert lengths_of(opened(new), step)[number].value == to
                tried += 1
    return tried


def test_random_lessons_change_in_that_number_alone() -> None:
    rng = random.Random(4)
    assert sum(stretch_all(rng, random_lesson(seed)) for seed in range(80)) > 70


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("begin", range(10_000, 15_000, 250))
def test_five_thousand_random_lessons_change_in_that_number_alone(begin: int) -> None:
    rng = random.Random(begin)
    assert sum(stretch_all(rng, random_lesson(seed)) for seed in range(begin, begin + 250)) > 250


def leaves(value: object, way: str = "") -> Iterator[tuple[str, object]]:
    """Everything that a program means, by where it is in it; not where its words stand."""
    if isinstance(value, dict):
        for key, one in value.items():
            if key not in ("span", "spans", "calls", "sources", "planned_span"):
                yield from leaves(one, f"{way}.{key}")
    elif isinstance(value, list | tuple):
        for place, one in enumerate(value):
            yield from leaves(one, f"{way}[{place}]")
    else:
        yield way, value


def meaning(path: Path, text: str) -> dict[str, object]:
    load = load_beside(path, shipped_folder(), path.parent)
    program, found = read(text, str(path), load=load)
    assert program is not None, [one.message for one in found]
    return dict(leaves(msgspec.to_builtins(program)))


@pytest.mark.parametrize("path", sorted(shipped_folder().glob("*.feed")), ids=lambda one: one.stem)
def test_shipped_lessons_mean_the_new_number_and_nothing_else(path: Path) -> None:
    """A number that is written in its place is that of its step alone: one fact is another."""
    text = path.read_text("utf-8")
    scope = opened(text, path)
    lesson = lesson_in(scope)
    assert lesson is not None
    before = meaning(path, text)
    for step in range(WHOLE, len(lesson.body.steps)):
        for number, length in list(enumerate(lengths_of(scope, step)))[:3]:
            if length.value is None or text[length.start : length.end] != length.written:
                continue
            to = length.value + length.step
            choice = stretched(scope, step, number, to).choices[0]
            after = meaning(path, changed(text, choice))
            others = {way for way in before if before[way] != after.get(way)}
            scale = {"min": 60.0, "s": 1.0, "": 1.0}[length.unit]
            assert {after[way] for way in others} == {to * scale}, (length, others)
            assert before.keys() == after.keys()
