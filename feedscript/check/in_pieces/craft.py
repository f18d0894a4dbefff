"""What a cluster's workers are asked to do: two functions that they too have, and data between."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

import msgspec

PieceT = TypeVar("PieceT")
AnswerT = TypeVar("AnswerT")


class HasData(Protocol):
    """What the pieces of one command have in common."""

    @property
    def data(self) -> bytes:
        """All of it, as it travels."""
        ...


class Refused(msgspec.Struct, frozen=True, tag="refused"):
    """This worker would come to something else, since so much is not the same there."""

    differs: str


@dataclass(frozen=True)
class Craft(Generic[PieceT, AnswerT]):
    """A kind of work. ``held``, ``done`` and ``own_code`` are sent by their names alone, so each is
    a module's own function; the other two stay on this side."""

    held: Callable[[bytes], bytes]  # what the pieces have in common, kept in the cluster
    done: Callable[[bytes, bytes], bytes]  # what came of one piece of it
    own_code: Callable[[], dict[str, str]]  # what a process is made of, as far as it counts
    wish: Callable[[PieceT], bytes]
    said: Callable[[bytes], AnswerT | Refused]  # ``msgspec.DecodeError`` where it is neither
