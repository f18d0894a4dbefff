"""The names of lanes, and which place comes after which.

A lesson has one lane, the main one (``""``); each station of a fork has one of its own, named by
the fork's number in the main lane and the station: ``"4/north"``.
"""

from __future__ import annotations

MAIN = ""


def fork_of(key: str) -> int | None:
    """The number of the fork that a station's lane belongs to; None for the main lane."""
    return int(key.partition("/")[0]) if key != MAIN else None


def station_of(key: str) -> str:
    """The station whose lane it is; "" for the main lane."""
    return key.partition("/")[2]


def is_later(place: tuple[str, int], than: tuple[str, int]) -> bool:
    """Whether the first place is reached only by way of the second."""
    fork = fork_of(place[0])
    if place[0] == than[0]:
        return place[1] > than[1]
    return than[0] == MAIN and fork is not None and fork > than[1]
