"""Whom the club has forgotten is forgotten on this computer too, while no lesson runs."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import anyio.to_thread
import httpx

from feedscript.club.link.door import Door, at_the_door
from feedscript.club.link.history import history_path
from feedscript.club.link.membership import Membership
from feedscript.club.people.obey import Forgot, obey
from feedscript.journal.lease import is_running
from feedscript.journal.schema import is_another_file
from feedscript.journal.store import default_journal_path


def journals_here(named: Path | None = None) -> tuple[Path, ...]:
    """Every journal in the user's data folder, and the one that is named with what came from the
    club beside it, if they are there."""
    folder = default_journal_path().parent
    found = [*folder.glob("*.sqlite"), *([] if named is None else [named, history_path(named)])]
    there = {path.resolve() for path in found if path.is_file()}
    return tuple(sorted(path for path in there if not is_another_file(path)))


async def obey_club(
    membership: Membership,
    journals: Iterable[Path],
    transport: httpx.AsyncBaseTransport | None = None,
) -> list[Forgot]:
    """Ask whom the club has forgotten, forget them in these journals, and say so; what went.

    Nothing while a lesson runs in one of them: the club tells it again. Raises FeedscriptError
    where the club is not heard, or a journal cannot be rewritten; then it is asked again too.
    """
    paths = tuple(journals)
    async with at_the_door(
        membership.url, membership.certificate, membership.key, transport
    ) as client:
        door = Door(client)
        told = await door.tombstones()
        if not told.stones or any(map(is_running, paths)):
            return []
        done = await anyio.to_thread.run_sync(obey, paths, told)
        await door.obeyed(told.last)
    return done
