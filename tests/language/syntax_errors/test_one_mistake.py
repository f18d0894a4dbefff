"""One mistake, one report: every word of a program left out or misspelt in turn.

The figures are measured, not wished: where more than one report comes, the word left out changed
what the words after it mean.
"""

from __future__ import annotations

from collections import Counter

from feedscript.language import read
from feedscript.language.parse.source import Source
from feedscript.language.syntax import parse
from tests.language.syntax_errors.test_any_text import SKETCH

TOKENS = parse(Source("sketch.feed", SKETCH)).tokens


def errors(text: str) -> int:
    _, diagnostics = read(text, "sketch.feed")
    return sum(diagnostic.is_error for diagnostic in diagnostics)


def test_a_word_left_out_is_nearly_always_one_report() -> None:
    counts = Counter(errors(SKETCH[: t.start_pos] + SKETCH[t.end_pos :]) for t in TOKENS)
    assert counts[0] + counts[1] >= 0.97 * len(TOKENS), counts
    assert max(counts) <= 4


def test_a_misspelt_word_is_nearly_always_one_report() -> None:
    words = [t for t in TOKENS if len(t) > 3 and t[0].isalpha()]
    counts = Counter(errors(SKETCH[: t.start_pos + 1] + SKETCH[t.start_pos + 2 :]) for t in words)
    assert counts[0] + counts[1] >= 0.98 * len(words), counts
    assert max(counts) <= 2
