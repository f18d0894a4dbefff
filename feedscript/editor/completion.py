"""What may be written next, as an editor offers it."""

from __future__ import annotations

import re
from enum import StrEnum

import msgspec

from feedscript.court.landmarks import End, landmarks, zones
from feedscript.court.lines import COURTS
from feedscript.language.parse import tree as t
from feedscript.language.resolve.declarations import BALL_STAGES, LEVELS, STAGES, SURFACES
from feedscript.language.resolve.lesson.patterns import KINDS
from feedscript.language.resolve.planning.suits import WHO
from feedscript.language.resolve.scope import Scope
from feedscript.language.syntax import Ahead, ahead
from feedscript.language.words import is_keyword, spelling
from feedscript.units import UNITS


class Kind(StrEnum):
    """What kind of thing is offered."""

    WORD = "word"
    FEED = "feed"
    PATTERN = "pattern"
    VALUE = "value"
    UNIT = "unit"
    PLACE = "place"
    CHOICE = "choice"


class Offer(msgspec.Struct, frozen=True):
    """One thing that may be written; ``text`` is put in where it differs from the label."""

    label: str
    kind: Kind
    text: str = ""


_CHOICES: dict[str, tuple[str, ...]] = {
    "SURFACE": SURFACES,
    "LINES": tuple(COURTS),
    "STAGE": STAGES,
    "LEVEL": LEVELS,
    "ARC": ("low", "high"),
    "TYPE": ("1", "2", "3", "high-altitude"),
    "WIND": ("head", "tail", "ad", "deuce"),
    "TURNED": ("ad", "deuce"),
    "NEIGHBOUR": ("ad", "deuce"),
    "NEIGHBOURS": ("ad", "deuce"),
}
_RELATIONS = ("inside", "behind", "in front of", "middle of", "ad of", "deuce of", "from", "on")


def offers(scope: Scope, text: str, offset: int) -> list[Offer]:
    """Everything that may stand at an offset of the text, the word there left aside."""
    begun = re.search(r"[^\W\d][\w-]*$", text[:offset])
    come = ahead(text[: begun.start() if begun else offset])
    last = come.tokens[-1].type if come.tokens else ""
    if come.block == "suits" and "NAME" in come.expected:
        return [Offer(word, Kind.CHOICE) for word in WHO]
    if last in _CHOICES and "NAME" in come.expected:
        choices = BALL_STAGES if last == "STAGE" and come.block == "balls" else _CHOICES[last]
        return [Offer(word, Kind.CHOICE) for word in choices]
    found = [Offer(w, Kind.WORD) for w in (_word(k) for k in come.expected) if w]
    if "UNIT" in come.expected and last == "NUMBER":
        found = [Offer(unit, Kind.UNIT) for unit in UNITS if unit.isascii()] + found
    if "SPIN_WORD" in come.expected:
        found += [Offer(word, Kind.CHOICE) for word in ("top", "back", "side", "side ad")]
    if "PLACE_WORD" in come.expected:
        found += _places(scope)
    if "NAME" in come.expected:
        found += _names(scope, come, last)
    return sorted(set(found), key=lambda offer: (offer.kind is Kind.WORD, offer.label))


def _word(kind: str) -> str | None:
    return spelling(kind) if is_keyword(kind) else None


def _places(scope: Scope) -> list[Offer]:
    court = COURTS["singles"]
    for block in scope.items(t.Declaration):
        for line in block.properties:
            if str(line.word).lower() == "lines":
                court = COURTS.get(str(line.parts[0]).lower(), court)
    names = {*landmarks(court), *zones(court, End.RECEIVER), *_RELATIONS}
    return [Offer(name, Kind.PLACE) for name in names]


def _names(scope: Scope, come: Ahead, last: str) -> list[Offer]:
    if last == "COLON":
        return [Offer(kind, Kind.CHOICE) for kind in KINDS]
    if last in ("FEED", "PATTERN", "LET", "AS"):
        return []  # a new name
    wants_feed = last in ("SEND", "MIRROR", "OF") or (last == "EQUAL" and _defines_feed(come))
    if wants_feed:
        return _defined(scope, t.Feed, Kind.FEED)
    if "SEND" in come.expected:
        return [
            Offer(f"{offer.label}()", Kind.PATTERN)
            for offer in _defined(scope, t.Pattern, Kind.PATTERN)
        ]
    if come.block == "expect" and "NUMBER" not in come.expected:
        return _defined(scope, t.Feed, Kind.FEED)
    return _defined(scope, t.Let, Kind.VALUE)


def _defines_feed(come: Ahead) -> bool:
    return len(come.tokens) > 2 and come.tokens[-3].type == "FEED"


def _defined(scope: Scope, kind: type, offered: Kind) -> list[Offer]:
    """The names of one kind, those of used files with their file's name before them."""
    found = [Offer(n, offered) for n, item in scope.names.items() if type(item) is kind]
    for file, used in scope.files.items():
        found += [
            Offer(f"{file}.{n}", offered) for n, item in used.names.items() if type(item) is kind
        ]
    return found
