"""What was said in a lesson, and what phases it went through, as its journal has it."""

from __future__ import annotations

import msgspec

from feedscript.journal.queries import balls_that_left, entries_of
from feedscript.journal.store import Journal
from feedscript.session.operator.commands import RosterChange
from feedscript.session.operator.phases import Phase
from feedscript.session.state.events import (
    KINDS,
    Called,
    Commanded,
    GroupChanged,
    GroupRefused,
    Happened,
)
from feedscript.tongues.text import _

#: What of the journal is told beside the balls.
_TOLD = ("call", "act", "happened", "roster", "roster-refused")


class Said(msgspec.Struct, frozen=True, kw_only=True):
    """A call or a phase of the lesson on the time line, or who came and left."""

    at_s: float
    text: str
    phase: bool
    group: bool = False  # who came, left or rests, or why not


def _changed(player: str, change: RosterChange) -> str:
    """Who comes, goes or rests, in words."""
    if change is RosterChange.JOIN:
        return _("{player} comes", player=player)
    if change is RosterChange.LEAVE:
        return _("{player} is not there", player=player)
    return _("{player} rests", player=player)


def said_in(journal: Journal, session_id: int) -> tuple[Said, ...]:
    """In order; times are from the first ball that left. Raises FeedscriptError (the journal)."""
    left = balls_that_left(journal, session_id)
    said: list[Said] = []
    phase = Phase.CONNECTING
    for row in entries_of(journal, session_id, *_TOLD):
        event = msgspec.json.decode(row.data, type=KINDS[row.kind])
        first = left[0].left_utc_s if left else None
        at_s = round(row.utc_s - (first or row.utc_s), 3)
        if isinstance(event, Called):
            said.append(Said(at_s=at_s, text=event.text, phase=False))
        elif isinstance(event, GroupChanged):
            text = _changed(event.player, event.change)
            said.append(Said(at_s=at_s, text=text, phase=False, group=True))
        elif isinstance(event, GroupRefused):
            said.append(Said(at_s=at_s, text=event.message, phase=False, group=True))
        elif isinstance(event, Commanded | Happened) and event.phase is not phase:
            phase = event.phase
            said.append(Said(at_s=at_s, text=phase, phase=True))
    return tuple(said)
