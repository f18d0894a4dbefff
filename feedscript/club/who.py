"""Who asks: what the rest of the server knows of people. Accounts stand behind it."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import TypeAlias

import msgspec
from starlette.requests import HTTPConnection


class Role(StrEnum):
    """What somebody is to the club."""

    VIEWER = "viewer"
    COACH = "coach"
    HEAD_COACH = "head-coach"


class Person(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody who has signed in."""

    id: str
    name: str
    role: Role


#: Who makes a request, or opens a socket; None for a stranger. It may ask the store: it is called
#: in a thread.
Who: TypeAlias = Callable[[HTTPConnection], Person | None]


def may_look(_person: Person) -> bool:
    """Who may see which courts there are, and whether they are heard: whoever has signed in."""
    return True


def may_stop(person: Person) -> bool:
    """Who may stop a court from afar. Nobody may start, arm or change anything from there."""
    return person.role in (Role.COACH, Role.HEAD_COACH)


def may_invite(person: Person) -> bool:
    """Who may let a court's computer join."""
    return person.role is Role.HEAD_COACH


def may_keep_library(person: Person) -> bool:
    """Who may look at the club's texts, add to them, and judge them."""
    return person.role in (Role.COACH, Role.HEAD_COACH)


def may_use_desk(person: Person) -> bool:
    """Who may write programs on the server, and review lessons there; each only what is theirs."""
    return person.role in (Role.COACH, Role.HEAD_COACH)
