"""Which players of a group get the same balls: alike in level and in where they wait."""

from __future__ import annotations

import msgspec

from feedscript.language.program import GroupDecl


class Kind(msgspec.Struct, frozen=True):
    """Players who are alike: their level, their place where it is their own, and who they are."""

    level: str | None
    receiver_m: tuple[float, float] | None
    names: tuple[str, ...]


def kinds_of(group: GroupDecl) -> tuple[Kind, ...]:
    """Every kind of player there is, the group's own first, though nobody may be of it."""
    names: dict[tuple[str | None, tuple[float, float] | None], list[str]] = {
        (group.level, None): []
    }
    own = {one.name: one for one in group.own}
    for name in group.names:
        said = own.get(name)
        level = group.level if said is None else said.level or group.level
        place = None if said is None or said.receiver_m == group.receiver_m else said.receiver_m
        names.setdefault((level, place), []).append(name)
    return tuple(Kind(level, place, tuple(who)) for (level, place), who in names.items())


def kind_of(group: GroupDecl, name: str) -> int:
    """The number of a player's kind."""
    return next((i for i, kind in enumerate(kinds_of(group)) if name in kind.names), 0)
