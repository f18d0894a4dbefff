"""What the club hands down to a court between lessons: what its own players did on other courts,
and the programs that coaches have handed to it."""

from __future__ import annotations

from typing import Annotated

import msgspec

from feedscript.club.batch import Event, Header

#: Where a court's computer asks for it, and says what it has.
HISTORY = "/api/hosts/history"
#: Where it asks for the programs.
PROGRAMS = "/api/hosts/programs"
#: The longest such request, bytes, and the most lessons in an answer. Design values.
MOST_ASKED = 2_000_000
MOST_HANDED = 10


class Have(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """From a court: the number of the last event it has of each lesson, by :func:`key_of`."""

    have: dict[Annotated[str, msgspec.Meta(max_length=80)], int]


class HandedLesson(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson that has ended, whole; who played along and is not of this court has no name."""

    key: str
    header: Header
    events: tuple[Event, ...]


class Handed(msgspec.Struct, frozen=True):
    """Lessons that the court does not have, or not whole; none when it has all."""

    lessons: tuple[HandedLesson, ...]


def key_of(host: str, lesson: str) -> str:
    """By what a lesson of another court is known."""
    return f"{host}/{lesson}"


#: What a program, and a coach's folder of them, may be called: the same on every machine.
NAME = r"\A[^\W_][\w -]{0,85}(?:\.season)?\Z"


class HandedProgram(msgspec.Struct, frozen=True, kw_only=True):
    """A program as its coach has handed it on, pinned by the SHA-256 of its words."""

    folder: Annotated[str, msgspec.Meta(pattern=NAME)]
    name: Annotated[str, msgspec.Meta(pattern=NAME)]
    sha256: Annotated[str, msgspec.Meta(pattern=r"\A[0-9a-f]{64}\Z")]
    words: str


class HandedPrograms(msgspec.Struct, frozen=True):
    """All that the court is to have."""

    programs: tuple[HandedProgram, ...]
