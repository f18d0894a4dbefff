"""When the players of a station without a launcher are at work there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from feedscript.plan.model import Repeat, Rest, Say, Station, Step
from feedscript.plan.times import milliseconds


def worked_ms(station: Station, for_ms: int) -> list[tuple[int, int]]:
    """From when to when they work, in milliseconds from the beginning of the stations.

    Work begins with its words, lasts as long as the time that follows them, or as long as the
    stations where none does. All of them work at once. Nothing at a station with a launcher.
    """
    if station.launcher is not None:
        return []
    found: list[tuple[int, int]] = []
    now_ms, since_ms = 0, None
    for step in _in_order(station.body):
        if isinstance(step, Say):
            since_ms = now_ms if step.players and since_ms is None else since_ms
            continue
        now_ms += milliseconds(step.seconds)
        if since_ms is not None:
            found.append((since_ms, now_ms))
        since_ms = None
    if since_ms is not None:
        found.append((since_ms, max(now_ms, for_ms)))
    return found


def _in_order(steps: Sequence[Step]) -> Iterator[Say | Rest]:
    """What is said and waited there, one after the other."""
    for step in steps:
        if isinstance(step, Say | Rest):
            yield step
        elif isinstance(step, Repeat):
            for _ in range(step.times):
                yield from _in_order(step.body)
