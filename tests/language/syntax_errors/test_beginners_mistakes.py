"""Mistakes that a beginner makes: each simply works or gives one helpful diagnostic, text and all.

The mistakes and their texts stand side by side in ``beginners_mistakes.md``. A block marked
``feedscript feed`` takes the place of that line of the program below; ``more`` is added to it.
``python -m tests.language.syntax_errors.test_beginners_mistakes`` writes the texts again, to be
read over.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from feedscript.diagnostics import render
from feedscript.language import read

FILE = Path(__file__).with_name("beginners_mistakes.md")

LINES = {
    "header": "feedscript 1",
    "court": "court { surface hard  altitude 0 m  air 20 C }",
    "balls": "balls { type 2  load 60 }",
    "launcher": "launcher { stands 1 m behind centre mark }",
    "feed": "feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }",
    "lesson": "lesson { show speed of deep  send deep after 5 s }",
}
WORKS = "it simply works"
_CASE = re.compile(
    r"^## (?P<title>[^\n]+)\n\n```feedscript (?P<slot>\w+)\n(?P<mistake>.*?)\n```\n\n"
    r"```text\n(?P<said>.*?)\n?```\n",
    re.DOTALL | re.MULTILINE,
)
#: What Markdown cannot show, by the sign that stands for it there.
_UNSEEN = {"␉": "\t", "⍽": "\u00a0", "␍": "\r", "␢": "\ufeff", "⇥": "\u2003"}


def cases() -> list[re.Match[str]]:
    return list(_CASE.finditer(FILE.read_text(encoding="utf-8")))


def program(slot: str, mistake: str) -> str:
    for sign, character in _UNSEEN.items():
        mistake = mistake.replace(sign, character)
    lines = {**LINES, slot: mistake}
    return "\n".join(lines.values()) + "\n"


def said(slot: str, mistake: str) -> str:
    text = program(slot, mistake)
    made, diagnostics = read(text, "mistake.feed")
    if not diagnostics:
        assert made is not None
        return WORKS
    return "\n\n".join(render(one, {"mistake.feed": text}) for one in diagnostics)


@pytest.mark.parametrize("case", cases(), ids=lambda case: case["title"])
def test_the_mistake_gives_exactly_this(case: re.Match[str]) -> None:
    shown = said(case["slot"], case["mistake"])
    for sign, character in _UNSEEN.items():
        shown = shown.replace(character, sign)
    assert shown == case["said"]


@pytest.mark.parametrize("case", cases(), ids=lambda case: case["title"])
def test_the_mistake_gives_at_most_one(case: re.Match[str]) -> None:
    told = re.findall(r"^(?:Error|Warning|Note): ", case["said"], re.MULTILINE)
    assert case["said"] == WORKS or len(told) == 1
    assert case["said"] == WORKS or "\n  fix: " in case["said"]


def test_there_are_forty() -> None:
    assert len(cases()) >= 40


def write_anew() -> None:
    def anew(case: re.Match[str]) -> str:
        shown = said(case["slot"], case["mistake"])
        for sign, character in _UNSEEN.items():
            shown = shown.replace(character, sign)
        before = case[0][: case.start("said") - case.start()]
        return f"{before}{shown}\n```\n"

    FILE.write_text(_CASE.sub(anew, FILE.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    write_anew()
