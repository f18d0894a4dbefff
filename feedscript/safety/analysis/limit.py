"""The number that a rule holds to, and which way it may be moved."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

import msgspec


class Stricter(StrEnum):
    """Which way a limit may be moved."""

    HIGHER = "higher"
    LOWER = "lower"


class Limit(msgspec.Struct, frozen=True):
    """The number a rule holds to, and the only direction in which a program may move it."""

    default: float
    unit: str
    stricter: Stricter

    def allows(self, value: float) -> bool:
        """Whether ``value`` is at least as strict as the default."""
        return self.strictest((self.default, value)) == value

    def strictest(self, values: Iterable[float]) -> float:
        """The strictest of some values of this limit."""
        return max(values) if self.stricter is Stricter.HIGHER else min(values)
