"""What may be written next, as an editor offers it."""

from __future__ import annotations

import re
from enum import StrEnum

import msgspec

from feedscript.court.landmarks import End, landmarks, zones
from feedscript.court.lines import COURTS
from feedscript.editor.quoted import Sort, open_at_end, quoted_in, spot_after
from feedscript.language.parse import tree as t
from feedscript.language.resolve.declarations import BALL_STAGES, LEVELS, STAGES, SURFACES
from feedscript.language.resolve.lesson.patterns import KINDS
from feedscript.language.resolve.planning.suits import WHO
from feedscript.language.resolve.planning.when import WEEKDAYS
from feedscript.language.resolve.scope import Scope
from feedscript.language.syntax import Ahead, ahead
from feedscript.language.words import PHRASES, is_keyword, spelling
from feedscript.own_library import library_folder, own_programs
from feedscript.shipped import shipped_programs
from feedscript.tongues.tongue import Tongues
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
    LAUNCHER = "launcher"
    QUOTED = "name"  # a player, a subgroup, a station or a target


class Offer(msgspec.Struct, frozen=True):
    """One thing that may be written.

    ``start``: where in the text the label is put in, up to the cursor; else for the word there.
    """

    label: str
    kind: Kind
    start: int | None = None
    detail: str = ""  # what it is, where the kind does not say it


_CHOICES: dict[str, tuple[str, ...]] = {
    "SURFACE": SURFACES,
    "LINES": tuple(COURTS),
    "STAGE": STAGES,
    "LEVEL": LEVELS,
    "SPEAKS": Tongues().languages,
    "ARC": ("low", "high"),
    "TYPE": ("1", "2", "3", "high-altitude"),
    "WIND": ("head", "tail", "ad", "deuce"),
    "TURNED": ("ad", "deuce"),
    "NEIGHBOUR": ("ad", "deuce"),
    "NEIGHBOURS": ("ad", "deuce"),
}
#: The names that may stand in some blocks: nothing that a program defines.
_WORDS_OF = {"suits": WHO, "season": WEEKDAYS, "week": WEEKDAYS}
_RELATIONS = ("inside", "behind", "in front of", "middle of", "ad of", "deuce of", "from", "on")


def offers(scope: Scope, text: str, offset: int) -> list[Offer]:
    """Everything that may stand at an offset of the text, the word there left aside."""
    mark = open_at_end(text[:offset])
    if mark is not None:
        return _between_marks(scope, text, *mark)
    begun = re.search(r"[^\W\d][\w-]*$", text[:offset])
    come = ahead(text[: begun.start() if begun else offset])
    last = come.tokens[-1].type if come.tokens else ""
    if come.block in _WORDS_OF and "NAME" in come.expected:
        choices = _WORDS_OF[come.block]
        known = [Offer(word, Kind.WORD) for word in map(_word, come.expected) if word]
        return [*(Offer(word, Kind.CHOICE) for word in choices), *known]
    if "OTHERWISE" in come.expected and "SEND" not in come.expected:
        words = [Offer("otherwise", Kind.WORD)]
        return [*(Offer(word, Kind.CHOICE) for word in LEVELS), *words]
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
    if "STRING" in come.expected:
        found += _quoted(scope, come, None)
    return sorted(set(found), key=_order)


def _order(offer: Offer) -> tuple[bool, str]:
    return offer.kind is Kind.WORD, offer.label


def _between_marks(scope: Scope, text: str, mark: str, at: int) -> list[Offer]:
    """Names, where some are expected behind this quotation mark; in a comment nothing is."""
    if mark == "#":
        return []
    come = ahead(text[:at])
    found = _quoted(scope, come, at + 1) if "STRING" in come.expected else []
    return sorted(found, key=_order)


def _quoted(scope: Scope, come: Ahead, start: int | None) -> list[Offer]:
    """The names that may stand between quotation marks here, or with them where none is open."""
    if _names_program(come):
        return [
            Offer(name if start is not None else f'"{name}"', Kind.QUOTED, start, "program")
            for name in (*shipped_programs(), *own_programs(library_folder()))
        ]
    spot = spot_after(come.tokens)
    if come.block == "season":
        return []  # a zone of time, a theme
    if spot.defines and spot.sorts not in ((Sort.STATION,), (Sort.TARGET,)):
        return []  # a new name; a station may be named again, a target at an exercise's head
    named = {
        one.name: one.sorts[0]
        for one in quoted_in(scope)
        if one.defines and one.sorts[0] in spot.sorts and one.name not in spot.listed
    }
    return [
        Offer(name if start is not None else f'"{name}"', Kind.QUOTED, start, sort.value)
        for name, sort in named.items()
    ]


def _names_program(come: Ahead) -> bool:
    """Whether a program is named next: after ``use``, or a weekday in the week of a season."""
    last = come.tokens[-1].type if come.tokens else ""
    return last == "USE" or (come.block == "week" and last == "NAME")


def _word(kind: str) -> str | None:
    return spelling(kind) if is_keyword(kind) else PHRASES.get(kind)


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
    if last in ("STEP_UP", "STEP_DOWN"):
        return _defined(scope, t.Progression, Kind.FEED)
    if last == "LAUNCHER":
        return _defined(scope, t.Declaration, Kind.LAUNCHER) if come.block != "program" else []
    if last in ("FEED", "PROGRESSION", "PATTERN", "LET", "AS"):
        return []  # a new name
    wants_feed = last in ("SEND", "MIRROR", "OF") or (last == "EQUAL" and _defines_feed(come))
    if wants_feed or come.block == "progression":
        return _sent(scope)
    if "SEND" in come.expected:
        return [
            Offer(f"{offer.label}()", Kind.PATTERN)
            for offer in _defined(scope, t.Pattern, Kind.PATTERN)
        ]
    if come.block == "expect" and "NUMBER" not in come.expected:
        return _sent(scope)
    return _defined(scope, t.Let, Kind.VALUE)


def _sent(scope: Scope) -> list[Offer]:
    """What may be sent: feeds, and progressions of them."""
    return [*_defined(scope, t.Feed, Kind.FEED), *_defined(scope, t.Progression, Kind.FEED)]


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
