"""From a breach to its place in the program's text."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from feedscript.diagnostics import Span
from feedscript.safety.rule import Breach

Locate: TypeAlias = Callable[[Breach], Span | None]


def nowhere(_: Breach) -> Span | None:
    """No text to point into: a plan from a file."""
    return None
