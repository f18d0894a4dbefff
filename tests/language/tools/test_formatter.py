"""The formatter changes the layout and nothing else, and has nothing to add the second time."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.language.parse.source import Source
from feedscript.language.parse.tree import shape
from feedscript.language.syntax import parse
from feedscript.language.tools.formatter import format_text
from tests.language.generated import Maker

MESSY = """\
FEEDSCRIPT   1 # first


# a comment of its own

Let a=\u22123 s*( 2+1 )   # trailing
feed x{Land 2 m inside  baseline, # depth
  1 m inside ad sideline speed 70km/h
  # last words
}
lesson{ repeat 2{send x after a
}
 choose{2:send x after 3 s
 1:{ rest 1 s
 alternate( 5 , gap=3 s)}}
  say \u201chello\u201d
}
"""

NEAT = """\
feedscript 1  # first

# a comment of its own

let a = -3 s * (2 + 1)  # trailing
feed x {
    land 2 m inside baseline,  # depth
        1 m inside ad sideline
    speed 70 km/h
    # last words
}
lesson {
    repeat 2 {
        send x after a
    }
    choose {
        2: send x after 3 s
        1: {
            rest 1 s
            alternate(5, gap = 3 s)
        }
    }
    say "hello"
}
"""


def test_a_messy_program_becomes_neat() -> None:
    assert format_text(MESSY, "messy.feed") == (NEAT, ())


def test_a_text_with_syntax_errors_is_left_alone() -> None:
    text, diagnostics = format_text("feedscript 1\nlesson { send }\n", "x.feed")
    assert text is None
    assert [d.slug for d in diagnostics] == ["missing-value"]


def comments(text: str) -> list[str]:
    quoted = re.sub(r'"(?:[^"\\\n]|\\.)*"|\u201c[^\u201d\n]*\u201d', "", text)
    return [c.rstrip() for c in re.findall(r"#[^\n]*", quoted)]


def round_trip(seed: int) -> None:
    text = Maker(seed).program()
    before = parse(Source("made.feed", text))
    assert not before.diagnostics, (seed, before.diagnostics[0], text)
    once, _ = format_text(text, "made.feed")
    assert once is not None
    after = parse(Source("made.feed", once))
    assert not after.diagnostics, (seed, after.diagnostics[0], once)
    assert shape(after.tree) == shape(before.tree), seed
    assert comments(once) == comments(text), seed
    twice, _ = format_text(once, "made.feed")
    assert twice == once, seed


@given(st.integers(0, 2**32))
@settings(max_examples=150)
def test_generated_programs_go_round(seed: int) -> None:
    round_trip(seed)


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_two_thousand_generated_programs_go_round() -> None:
    for seed in range(2_000):
        round_trip(seed)


def test_shipped_programs_are_in_the_houses_layout(root) -> None:
    for path in sorted((root / "programs").rglob("*.feed")):
        text = path.read_text(encoding="utf-8")
        assert format_text(text, path.name)[0] == text, f"run `feedscript tidy {path}`"
