"""Where in the lesson a step stands."""

from __future__ import annotations

from typing import Any

import msgspec

from feedscript.diagnostics import Span
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.values import Evaluator

#: The most rounds of one repeat or until.
MOST_ROUNDS = 10_000
#: The longest that anything is written to take.
LONGEST_S = 4 * 3600.0


class Position(msgspec.Struct, frozen=True):
    """Where in the lesson a step stands."""

    evaluator: Evaluator
    checking: bool = False  # a pattern is checked by itself: parameters are not known
    mirror: bool = False
    on_turn: bool = False
    names: tuple[str, ...] | None = None  # who may be on turn; None: anybody of the group
    together: bool = False  # in a station
    target: str | None = None  # of the exercise here, "" where it has none; None: in no exercise
    inside: str = ""  # the kind of the innermost block; "" in the lesson itself or a pattern
    layers: int = 0
    calls: tuple[Span, ...] = ()

    @property
    def scope(self) -> Scope:
        return self.evaluator.scope

    def deeper(self, **changes: Any) -> Position:
        """The place one layer further in."""
        return msgspec.structs.replace(self, layers=self.layers + 1, **changes)
