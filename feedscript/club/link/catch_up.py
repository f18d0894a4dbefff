"""Catching up with the club while no lesson runs: everything that waits goes up, and what this
court's players did on other courts comes down."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from pathlib import Path

import httpx
import msgspec

from feedscript.club.link.acknowledged import keeper, read_acknowledged
from feedscript.club.link.door import Door, NotHeardError, at_the_door
from feedscript.club.link.history import history_down
from feedscript.club.link.membership import Membership
from feedscript.club.link.outbox import Outbox
from feedscript.club.link.sender import Sender
from feedscript.diagnostics import Diagnostic
from feedscript.journal.store import read_journal


class CaughtUp(msgspec.Struct, frozen=True, kw_only=True):
    """What was sent, what still waits, and what the club does not take; how many lessons of other
    courts came."""

    sent: int
    waiting: int
    aside: Mapping[str, Diagnostic] = {}
    not_heard: Diagnostic | None = None
    fetched: int = 0


async def catch_up(
    membership: Membership, journal_path: Path, transport: httpx.AsyncBaseTransport | None = None
) -> CaughtUp:
    """Send what waits. Raises FeedscriptError where the journal cannot be read, or the club does
    not know this computer's key."""
    with closing(read_journal(journal_path)) as journal:
        known = read_acknowledged(journal_path, membership.host)
        outbox = Outbox(journal, known.held, known.elsewhere)
        before, not_heard, fetched = outbox.waiting, None, 0
        async with at_the_door(
            membership.url, membership.certificate, membership.key, transport
        ) as client:
            door = Door(client)
            sender = Sender(door, outbox, keeper(journal_path, known))
            try:
                await sender.ask()
                before = outbox.waiting
                await sender.send_what_waits()
                fetched = await history_down(door, journal_path)
            except NotHeardError as trouble:
                not_heard = trouble.diagnostic
        waiting = outbox.waiting
    return CaughtUp(
        sent=before - waiting,
        waiting=waiting,
        aside=dict(outbox.aside),
        not_heard=not_heard,
        fetched=fetched,
    )
