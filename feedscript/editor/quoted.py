"""Names in quotation marks: players, subgroups, stations, exercises and targets.

What one means is told by the words before it, so that they are found in a text that is not finished
too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from enum import StrEnum

import msgspec

from feedscript.language.parse.tables import tables
from feedscript.language.parse.token import Token
from feedscript.language.resolve.scope import Scope

TEXTS = ("STRING", "BAD_STRING")
MARKS = '"\u201c\u201d\u201e\u00ab\u00bb'


class Sort(StrEnum):
    """What is named."""

    PLAYER = "player"
    SUBGROUP = "subgroup"
    STATION = "station"
    EXERCISE = "exercise"
    TARGET = "target"


#: Players and subgroups are meant by the same words.
PEOPLE = (Sort.PLAYER, Sort.SUBGROUP)


class Quoted(msgspec.Struct, frozen=True):
    """One name in quotation marks: the place between the marks, and what it may name."""

    start: int
    end: int
    name: str
    sorts: tuple[Sort, ...]
    defines: bool


#: By the word before the first of several names: what they may name, and whether they define it.
_AFTER: dict[str, tuple[tuple[Sort, ...], bool]] = {
    "PLAYERS": ((Sort.PLAYER,), True),
    "PLAYER": ((Sort.PLAYER,), True),
    "SUBGROUP": ((Sort.SUBGROUP,), True),
    "STATION": ((Sort.STATION,), True),
    "EXERCISE": ((Sort.EXERCISE,), True),
    "TARGET": ((Sort.TARGET,), True),
    "IN": ((Sort.TARGET,), False),
    "FOR": (PEOPLE, False),
    "EXCEPT": (PEOPLE, False),
    "WHEN": (PEOPLE, False),
    "LEFT-HANDED": ((Sort.PLAYER,), False),
    "TOGETHER": ((Sort.PLAYER,), False),
    "APART": ((Sort.PLAYER,), False),
}


class Spot(msgspec.Struct, frozen=True):
    """What a name may stand for after these words; ``listed`` are those before it in its list."""

    sorts: tuple[Sort, ...] = ()
    defines: bool = False
    listed: tuple[str, ...] = ()


def spot_after(before: Sequence[Token]) -> Spot:
    """What a name in quotation marks would be after these tokens."""
    end, listed = len(before), []
    while end >= 2 and before[end - 1].type == "COMMA" and before[end - 2].type in TEXTS:
        listed.append(_inner(before[end - 2]))
        end -= 2
    if end == 0:
        return Spot()
    head = before[end - 1]
    if head.type in TEXTS and end >= 2 and before[end - 2].type == "SUBGROUP":
        return Spot((Sort.PLAYER,), False, tuple(listed))
    sorts, defines = _AFTER.get(_word(head), ((), False))
    return Spot(sorts, defines, tuple(listed))


def _word(token: Token) -> str:
    """Its kind; where the grammar has no name for it, the word itself."""
    return token.upper() if token.type.startswith("__ANON") else token.type


def _inner(token: Token) -> str:
    """What stands between the marks."""
    return token[1:-1] if token.type == "STRING" else token[1:]


def quoted_in(scope: Scope) -> tuple[Quoted, ...]:
    """Every name in quotation marks of a text, in order."""
    return tuple(_quoted([one for one in scope.tokens if one.end_pos > one.start_pos]))


def _quoted(tokens: Sequence[Token]) -> Iterator[Quoted]:
    for number, token in enumerate(tokens):
        if token.type != "STRING":
            continue
        spot = spot_after(tokens[max(0, number - 80) : number])
        following = tokens[number + 1].type if number + 1 < len(tokens) else ""
        # `target "deep cross"` at an exercise's head names one that a `target "…" { }` defines.
        defines = spot.defines and (spot.sorts != (Sort.TARGET,) or following == "LBRACE")
        if spot.sorts:
            yield Quoted(token.start_pos + 1, token.end_pos - 1, _inner(token), spot.sorts, defines)


def open_at_end(text: str) -> tuple[str, int] | None:
    """The mark that the end of a text stands behind, and where: an open quotation mark or ``#``."""
    line = text[text.rfind("\n") + 1 :]
    patterns = tables().patterns
    marks = rf"{patterns['STRING'][0]}|(?P<open>#.*|{patterns['BAD_STRING'][0]})"
    for found in re.finditer(marks, line):
        if found["open"] is not None:
            return found["open"][0], len(text) - len(line) + found.start()
    return None
