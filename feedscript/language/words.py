"""The words of the language, and which known word an unknown one is nearest to."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable

from feedscript.language.parse.tables import tables
from feedscript.nearest import nearest

#: Kinds of token that are several words in a row.
PHRASES = {
    "IN_A_ROW": "in a row",
    "IN_TARGET": "in target",
    "BY_LEVEL": "by level",
    "WHEN_COACH_TAPS": "when coach taps",
    "COLLECT_BETWEEN": "collect between",
    "STEP_UP": "step up",
    "STEP_DOWN": "step down",
}
#: How each kind of token that is no fixed word is called.
_KINDS = {
    "NAME": "a name",
    "NUMBER": "a number",
    "STRING": "words in quotation marks",
    "PLACE_WORD": "a line or area of the court",
    "SPIN_WORD": "top, back or side",
    "COMPARE": "<= or >=",
    **PHRASES,
    "UNIT": "a unit",
    "DATE": "a date, such as 2027-01-11",
    "CLOCK": "a time, such as 17:00",
    "$END": "the end",
}
_SILENT = {"SIGN", "TIMES", "BAD_NUMBER", "BAD_STRING", "UNIT", "DOT"}

#: The words that begin an item of a program, and so can stand in no block.
ITEMS = (
    "TITLE",
    "USE",
    "ALLOW",
    "REQUIRE",
    "SUITS",
    "COURT",
    "COACH",
    "LET",
    "FEED",
    "PROGRESSION",
    "PATTERN",
    "LESSON",
    "SEASON",
    "EXPECT",
    "GROUP",
    "LAUNCHER",
    "BALLS",
    "KEEP",
    "SEED",
)

#: The single words that places are made of.
PLACE_WORDS = (
    *("inside", "outside", "behind", "past", "beyond", "from", "middle", "front"),
    *("net", "post", "service", "line", "centre", "center", "baseline", "sideline", "mark"),
    *("singles", "doubles", "court", "corner", "advantage", "deuce", "forehand", "backhand"),
    *("half", "box", "alley", "tramline", "forecourt", "backcourt", "run-off"),
)

#: Words that a writer may bring along, and the word that is meant.
MEANT = {
    "throw": "send",
    "shoot": "send",
    "hit": "send",
    "serve": "send",
    "fire": "send",
    "ball": "send",
    "pause": "rest",
    "sleep": "rest",
    "delay": "rest",
    "loop": "repeat",
    "while": "until",
    "if": "when",
    "else": "otherwise",
    "print": "say",
    "speak": "say",
    "call": "say",
    "pickup": "collect",
    "random": "choose",
    "every": "after",
    "drill": "pattern",
    "def": "pattern",
    "function": "pattern",
    "program": "lesson",
    "practice": "lesson",
    "training": "lesson",
    "session": "lesson",
    "import": "use",
    "include": "use",
    "const": "let",
    "var": "let",
    "set": "let",
    "shot": "feed",
    "target": "land",
    "place": "land",
    "landing": "land",
    "lands": "land",
    "velocity": "speed",
    "pace": "speed",
    "rotation": "spin",
    "radius": "within",
    "height": "apex",
    "machine": "launcher",
    "players": "group",
    "students": "group",
    "trainer": "coach",
    "test": "expect",
    "assert": "expect",
    "temperature": "air",
    "ground": "surface",
    "hopper": "load",
    "name": "title",
}


@functools.cache
def _literals() -> dict[str, str]:
    """Each fixed word or mark by the kind of its token."""
    return {kind: word for word, kind in tables().words.items()}


def spelling(kind: str) -> str | None:
    """How a fixed word or mark is written; None for a kind with many spellings."""
    return _literals().get(kind)


@functools.cache
def _place_word() -> re.Pattern[str]:
    return re.compile(tables().patterns["PLACE_WORD"][0], re.IGNORECASE)


def is_place_word(word: str) -> bool:
    """Whether this is one of the words that places are made of."""
    return _place_word().fullmatch(word) is not None


def kind_of(word: str) -> str | None:
    """The kind of token of a fixed word."""
    return tables().words.get(word.lower())


def is_keyword(kind: str) -> bool:
    """Whether tokens of this kind are one fixed word of letters."""
    word = spelling(kind)
    return word is not None and word[0].isalpha()


def in_words(kinds: Iterable[str], most: int = 8) -> str:
    """The kinds of token as a person reads them, such as ``top, back or side``."""
    shown: list[str] = []
    for kind in kinds:
        if kind in _SILENT:
            continue
        word = spelling(kind)
        text = f"`{word}`" if word is not None else _KINDS.get(kind, "")
        if text and text not in shown:
            shown.append(text)
    if len(shown) > most:
        shown = [*shown[:most], "…"]
    return listed(shown)


def listed(words: Iterable[str]) -> str:
    """``a``, ``a or b``, ``a, b or c``."""
    words = list(words)
    return (
        words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}" if words else ""
    )


def nearest_keyword(word: str, kinds: Iterable[str]) -> str | None:
    """The kind among ``kinds`` whose word was most likely meant by ``word``, or None."""
    by_word = {spelling(kind) or "": kind for kind in kinds if is_keyword(kind)}
    meant = MEANT.get(word.lower())
    if meant in by_word:
        return by_word[meant]
    found = nearest(word, by_word)
    return by_word[found] if found else None
