"""In a language that puts every word of ours between marks, no words are left outside, save names,
numbers, a program's own words and what is listed here."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedscript.check.check_program import Options, check_program
from feedscript.review.sheet.files import PAPERS, draw_paper
from feedscript.session.operator.view import LessonView
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.shipped import program_path
from feedscript.tongues.text import Text
from tests.tongues import pseudo

#: Units, and the names that keys have on every keyboard.
SAME_EVERYWHERE = {"min", "km", "Esc", "Page", "Up", "Down"}
#: The languages call themselves by their own names.
LANGUAGES = {"English", "Deutsch", "Español", "Français"}

WORD = re.compile(r"[^\W\d_]{2,}")


def words_of(text: str) -> set[str]:
    return set(WORD.findall(text))


def data_of(value: Any) -> set[str]:
    """The words of a view that are the lesson's own: names, titles, feeds, what was said."""
    if isinstance(value, msgspec.Struct):
        return set().union(*(data_of(getattr(value, name)) for name in value.__struct_fields__))
    if isinstance(value, tuple | list):
        return set().union(*(data_of(each) for each in value))
    if type(value) is str:
        return words_of(value)
    if isinstance(value, Text):  # its parts may be names
        return data_of(list(value.made.parts.values()))
    return set()


def left_over(texts: list[str], data: set[str]) -> set[str]:
    outside = set().union(*(words_of(pseudo.outside(text)) for text in texts))
    data = {word.casefold() for word in data}
    known = SAME_EVERYWHERE | LANGUAGES
    return {word for word in outside if word.casefold() not in data} - known


def test_the_marks_are_seen() -> None:
    assert pseudo.outside("a ⟦b ⟦c⟧ d⟧ e") == "a  e"
    assert left_over(["⟦yes⟧ no 3 km/h"], set()) == {"no"}


#: Where in a view words of ours stand.
OURS = ("phase_words", "waits_for", "to_group", "no_link", "ended", "cause")


def told_in(view: LessonView) -> list[str]:
    """What a view of a real lesson says in words of ours, told with marks."""
    plain = msgspec.to_builtins(view, enc_hook=pseudo.tongue())
    said = [plain[name] for name in OURS]
    said += [word for one in plain["controls"] for word in (one["label"], one.get("why_not", ""))]
    said += [one["words"] for one in plain["set_up"]]
    said += [one["state_words"] for one in plain["launchers"]]
    said += [word for one in plain["troubles"] for word in (one["message"], one["help"])]
    return [*said, *(one["text"] for one in plain["calls"])]


@pytest.mark.parametrize("program", ["wednesday-six"])
def test_a_real_lesson(program: str) -> None:
    verdict = check_program(program_path(program, None), Options())
    assert verdict.plan is not None
    said: set[str] = set()
    rehearse(
        verdict.plan,
        verdict.facts.profiles,
        program,
        faults=("jam=5",),
        watch=lambda view: said.update(told_in(view)),
    )
    source = words_of(Path(program_path(program, None)).read_text("utf-8"))
    assert not left_over([*said], source | {"garage"})


class Texts(HTMLParser):
    """What is read of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._style = tag == "style"
        self.found += [value or "" for name, value in attrs if name in ("aria-label", "data-head")]

    def handle_endtag(self, tag: str) -> None:
        self._style = False

    def handle_data(self, data: str) -> None:
        if not self._style:
            self.found.append(data)


def texts_of(html: str) -> list[str]:
    parser = Texts()
    parser.feed(html)
    return parser.found


@pytest.mark.parametrize("kind", PAPERS)
def test_the_sheet_and_the_cards(kind: str) -> None:
    verdict = check_program(program_path("wednesday-six", None), Options())
    suits = verdict.program.suits if verdict.program else None
    html = draw_paper(verdict.facts, suits, kind, tongue=pseudo.tongue()).decode()
    source = words_of(Path(program_path("wednesday-six", None)).read_text("utf-8"))
    assert not left_over(texts_of(html), source)
