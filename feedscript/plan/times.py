"""Time in a plan: whole milliseconds, written as seconds."""

from __future__ import annotations


def milliseconds(seconds: float) -> int:
    """A plan's time as the whole number of milliseconds that it is."""
    return round(seconds * 1000.0)
