"""In a language that puts every word of ours between marks, no words are left outside: of a lesson
as it is played, and of every page and picture that is made before and after it.

Every word of the program that is played begins with "xq", so that none of ours hides behind one.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedscript.check.check_program import Options, check_program
from feedscript.journal.store import open_journal
from feedscript.review.drawing.drawn_flights import drawn_flights
from feedscript.review.drawing.files import draw_plan
from feedscript.review.drawing.picture import time_picture
from feedscript.review.drawing.svg import write
from feedscript.review.drawing.timeline import longest_run, told
from feedscript.review.record.family import family_html
from feedscript.review.record.figures import record_of
from feedscript.review.record.forms import facts, in_words
from feedscript.review.record.history import history_of
from feedscript.review.record.page import record_html
from feedscript.review.report.html import report_html, review_of
from feedscript.review.report.lesson import Lesson, lesson_of_player, read_lesson
from feedscript.review.sheet.files import PAPERS, draw_paper
from feedscript.review.video.cues import Track, as_webvtt, cues_of
from feedscript.session.operator.view import LessonView
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.tongues.text import Text
from tests.tongues import pseudo

#: Units, and the names that keys have on every keyboard.
SAME_EVERYWHERE = {"min", "km", "rpm", "Esc", "Page", "Up", "Down"}
#: The languages call themselves by their own names.
LANGUAGES = {"English", "Deutsch", "Español", "Français"}

WORD = re.compile(r"[^\W\d_]{2,}")
PROGRAM = Path(__file__).with_name("own_words.feed")
VERDICT = check_program(PROGRAM, Options())


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


def ours_outside(texts: list[str]) -> set[str]:
    """What is left over of texts about the program here; the launcher's profile is a file."""
    return {
        one for one in left_over(texts, {"garage", "toml"}) if not one.casefold().startswith("xq")
    }


def test_the_marks_are_seen() -> None:
    assert pseudo.outside("a ⟦b ⟦c⟧ d⟧ e") == "a  e"
    assert left_over(["⟦yes⟧ no 3 km/h"], set()) == {"no"}
    assert ours_outside(["xqana ⟦is on⟧, Xqben too"]) == {"too"}


def told_in(view: LessonView) -> list[str]:
    """What a view of a real lesson says, told with marks: all its texts but names of things."""
    plain = msgspec.to_builtins(view, enc_hook=pseudo.tongue())
    return list(_texts(plain))


#: Fields that hold a name by which parts of the program know each other, or a drawing.
NAMES = {"phase", "name", "command", "do", "keys", "colour", "mark", "key_names", "area", "look"}
NAMES |= {"state", "key", "act", "presence", "may_be", "outcome", "result", "presences", "slug"}
NAMES |= {"ending", "role", "by_result", "stands", "still", "language", "reason"}


def _texts(value: Any) -> Any:
    if isinstance(value, dict):
        for key, each in value.items():
            if key not in NAMES:
                yield from _texts(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _texts(each)
    elif isinstance(value, str):
        yield value


class Played(msgspec.Struct):
    """A lesson that was played on the simulated launcher, a ball jammed; its results are drawn."""

    said: set[str]
    journal: Path
    lesson: Lesson


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    path = tmp_path_factory.mktemp("played") / "j.sqlite"
    assert VERDICT.plan is not None, VERDICT.diagnostics
    said: set[str] = set()
    journal = open_journal(path)
    rehearse(
        VERDICT.plan,
        VERDICT.facts.profiles,
        PROGRAM.name,
        faults=("jam=9",),
        journal=journal,
        watch=lambda view: said.update(told_in(view)),
        results=True,
    )
    lesson = read_lesson(journal)
    journal.close()
    return Played(said, path, lesson)


def test_a_lesson_as_it_is_played(played: Played) -> None:
    assert any("Xqnorth" in words for words in played.said)
    assert ours_outside([*played.said]) == set()


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


def _sheet_of_one(played: Played) -> str:
    name = played.lesson.players[0]
    lesson = lesson_of_player(played.lesson, name, played.lesson.players)
    return report_html(review_of(lesson, (), sheet=True), pseudo.tongue())


AFTER: dict[str, Callable[[Played], str]] = {
    "review": lambda p: report_html(review_of(p.lesson, (p.lesson,), sheet=False), pseudo.tongue()),
    "sheet of a player": _sheet_of_one,
    "record": lambda p: record_html(_record(p), pseudo.tongue()),
    "family": lambda p: family_html(_record(p), pseudo.tongue()),
}


def _record(played: Played) -> Any:
    return record_of(history_of([played.journal], played.lesson.players[0]))


@pytest.mark.parametrize("page", AFTER)
def test_what_is_told_after_a_lesson(played: Played, page: str) -> None:
    html = AFTER[page](played)
    assert pseudo.OPENS in html
    assert ours_outside(texts_of(html)) == set()


def test_a_record_in_lines(played: Played) -> None:
    record = _record(played)
    lines = [pseudo.tongue()(one) for one in (facts(record.history), *in_words(record))]
    assert ours_outside(lines) == set()


@pytest.mark.parametrize("track", [Track.TURNS, Track.BALLS])
def test_chapters_of_a_video(played: Played, track: Track) -> None:
    lesson = played.lesson
    cues = cues_of(lesson, lesson.begun_utc_s, track)
    text = as_webvtt(lesson.title, cues, metadata=False, tongue=pseudo.tongue())
    said = [line for line in text.splitlines() if ": " in line]
    assert len(said) == len(cues)
    assert ours_outside(said) == set()


@pytest.mark.parametrize("kind", PAPERS)
def test_the_sheet_and_the_cards(kind: str) -> None:
    html = draw_paper(VERDICT.facts, VERDICT.program.suits, kind, tongue=pseudo.tongue()).decode()
    assert ours_outside(texts_of(html)) == set()


@pytest.mark.parametrize("ending", [".html", ".svg"])
def test_the_picture_of_a_program(ending: str) -> None:
    drawn = draw_plan(VERDICT.facts, ending, 1600, pseudo.tongue())
    assert isinstance(drawn, bytes)
    # A letter and its feed stand side by side; `within` is a word of the language.
    assert ours_outside(texts_of(drawn.decode())) == set()


def test_the_line_of_time() -> None:
    run = told(longest_run(VERDICT.facts.plan), pseudo.tongue())
    drawn = write(time_picture(run, drawn_flights(VERDICT.facts)), 0, pseudo.tongue())
    assert ours_outside([*texts_of(drawn), *(call.words for call in run.calls)]) == set()
