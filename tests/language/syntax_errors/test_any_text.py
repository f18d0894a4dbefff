"""Whatever the text, reading it ends with a program or with diagnostics, never with a traceback."""

from __future__ import annotations

import random
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.diagnostics import Diagnostic, has_errors, render
from feedscript.language import read
from feedscript.language.parse.tables import tables

SKETCH = """\
feedscript 1
title "Thursday juniors"
court    { surface clay   altitude 640 m   air 28 C }
balls    { stage green    load 60 }
launcher { stands 1 m behind centre mark }
group    { 5 players   stage green   left-handed 2 }
coach    { walks deuce alley }
let tempo = 4 s
feed deep_backhand {
    land    2 m inside baseline, 1 m inside backhand sideline
    speed   70 km/h
    spin    top 1200 rpm, side ad 300 rpm
    within  0.6 m
    vary    place 0.5 m, speed 3 km/h
}
feed wide_forehand = deep_backhand with { land at 1 m, 9 m   arc high }
pattern alternate(n: count = 6, gap: time = tempo, f: feed = wide_forehand) {
    repeat n times { send deep_backhand after gap   send f after gap vary 0.5 s }
}
lesson {
    show speed of deep_backhand                  # watched from the side
    rotate group every 2 min { alternate(5)  rest 20 s }
    choose seed 7 { 2: send deep_backhand after 3.5 s   1: { send mirror wide_forehand after 3 s } }
    shuffle { mirror alternate(n = 2, f = deep_backhand)  say "Recover" }
    collect
    when 70 % in of last 10 { rest 5 s } otherwise { rest 9 s }
    for each player { until 5 in a row in, at most 20 { send deep_backhand after 4 s } }
    together { station "one" { send deep_backhand after 4 s } }
}
expect {
    balls <= 60      time <= 50 min
    deep_backhand clears net by 0.5 m
    95 % of deep_backhand within 0.7 m
    every player gets between 2 and 90 balls
    never more than 9 of every feed in a row
}
"""


#: Reading takes calls as a text is long, whatever it says: 40 a character at most where long texts
#: made to break it were counted. Looking for what was meant by unknown words is dear (150,000 calls
#: for sixty words in any order), and is bounded.
CALLS_A_CHARACTER = 80
CALLS_FOR_ADVICE = 500_000


def counted(text: str) -> tuple[object, tuple[Diagnostic, ...], int]:
    """What is read of a text, and how many calls that took: time would measure the machine."""
    calls = 0

    def count(_frame: object, event: str, _told: object) -> None:
        nonlocal calls
        calls += event in ("call", "c_call")

    sys.setprofile(count)
    try:
        program, diagnostics = read(text, "any.feed")
    finally:
        sys.setprofile(None)
    return program, diagnostics, calls


def check(text: str) -> None:
    program, diagnostics, calls = counted(text)
    assert calls <= CALLS_FOR_ADVICE + CALLS_A_CHARACTER * len(text)
    assert (program is None) == has_errors(diagnostics)
    for diagnostic in diagnostics:
        assert render(diagnostic, {"any.feed": text})


def test_the_sketch_is_a_program() -> None:
    program, diagnostics = read(SKETCH, "sketch.feed")
    assert diagnostics == ()
    assert program is not None


@given(st.binary(max_size=300))
@settings(max_examples=150)
def test_bytes(data: bytes) -> None:
    check(data.decode("utf-8", errors="replace"))


@given(st.text(max_size=300))
@settings(max_examples=150)
def test_characters(text: str) -> None:
    check(text)


WORDS = sorted(
    set(tables().words)
    | {
        "deep",
        "4 s",
        "70 km/h",
        "x",
        "2",
        '"words"',
        '"open',
        "in a row",
        "<=",
        "+",
        "-",
        "\n",
        "1,5",
    }
)


@given(st.lists(st.sampled_from(WORDS), max_size=60))
@settings(max_examples=250)
def test_words_of_the_language_in_any_order(words: list[str]) -> None:
    check(" ".join(words))
    check("feedscript 1\nlesson { " + " ".join(words))


def mutated(text: str, other: str, rng: random.Random) -> str:
    """A byte flipped, a part cut out, or a part of another program spliced in."""
    data = bytearray(text.encode())
    for _ in range(rng.randint(1, 3)):
        kind = rng.randrange(3)
        if kind == 0:
            data[rng.randrange(len(data))] = rng.randrange(256)
        elif kind == 1:
            start = rng.randrange(len(data))
            del data[start : start + rng.randint(1, 40)]
        else:
            donor, at = other.encode(), rng.randrange(len(data))
            begin = rng.randrange(len(donor))
            data[at:at] = donor[begin : begin + rng.randint(1, 80)]
        if not data:
            data = bytearray(b"x")
    return data.decode("utf-8", errors="replace")


def run_mutations(programs: list[str], count: int, seed: int) -> None:
    rng = random.Random(seed)
    for _ in range(count):
        text = mutated(rng.choice(programs), rng.choice(programs), rng)
        try:
            check(text)
        except BaseException:
            print(text)
            raise


def shipped(root) -> list[str]:
    return [path.read_text() for path in sorted((root / "programs").rglob("*.feed"))]


def test_mutated_programs(root) -> None:
    run_mutations([SKETCH, *shipped(root)], 300, seed=1)


@pytest.mark.long
@pytest.mark.timeout(7200)
def test_a_hundred_thousand_mutated_programs(root) -> None:
    run_mutations([SKETCH, *shipped(root)], 100_000, seed=2)


@pytest.mark.parametrize(
    "text",
    [
        "(" * 20_000,
        "{" * 20_000,
        "feedscript 1\nlet a = " + "(" * 5_000 + "1 s",
        "feedscript 1\nlet a = " + "-" * 5_000 + "1 s",
        "feedscript 1\nlesson { " + "repeat 2 { " * 3_000,
        "feedscript 1\nlesson { " + "repeat 2 { " * 3_000 + "}" * 3_001,
        "feedscript 1\nlet a = 1 s" + " + 1 s" * 20_000,
        '"' * 5_000,
        "\n" * 50_000 + "x",
        "feed x " * 3_000,
        "9" * 5_000,
        "feedscript 1\nlet a = " + "9" * 400 + " s\nlet b = 1e400 m",
        "\x00" * 100,
        "feedscript 1\n" + "\n".join(f"let a{n} = a{n + 1}" for n in range(3_000)),
        "feedscript 1\n" + "\n".join(f"pattern p{n}() {{ p{n + 1}() }}" for n in range(3_000)),
    ],
)
def test_texts_made_to_break_it(text: str) -> None:
    check(text)
