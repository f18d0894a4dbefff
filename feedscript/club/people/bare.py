"""A lesson without the names of those whom its reader has nothing to do with."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from functools import reduce

import msgspec

from feedscript.club.batch import Header
from feedscript.club.store.people.audit import player_key
from feedscript.club.store.people.players import Whole
from feedscript.journal.redaction import Replace, replaced, without_names

_TOLD = ("title", "source", "plan", "profiles", "group_json")


def without_others(lesson: Whole, players: Iterable[str], own: Collection[str]) -> Whole:
    """The lesson, with a number in the place of each of its ``players`` whose key (of
    ``audit.player_key``) is not among ``own``."""
    known = list(players)
    others = sorted(name for name in known if player_key(name) not in own)
    replaces = [
        without_names([name], f"other player {number}", known=known)
        for number, name in enumerate(others, 1)
    ]
    if not replaces:
        return lesson

    def bare(text: str) -> str:
        return reduce(_one, replaces, text)

    head = msgspec.structs.asdict(lesson.head)
    return Whole(
        host=lesson.host,
        lesson=lesson.lesson,
        head=Header(**{**head, **{name: bare(head[name]) for name in _TOLD}}),
        events=tuple(msgspec.structs.replace(one, data=bare(one.data)) for one in lesson.events),
    )


def _one(told: str, replace: Replace) -> str:
    return str(replaced(told, replace))
