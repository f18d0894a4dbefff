"""Fetching from the club between lessons, for commands that wait for it."""

from __future__ import annotations

from pathlib import Path

import anyio
import httpx
import msgspec

from feedscript.club.link.door import Door, NotHeardError, at_the_door
from feedscript.club.link.history import history_down
from feedscript.club.link.library import FetchedNow, fetch_library
from feedscript.club.link.membership import Membership
from feedscript.club.link.programs import fetch_programs
from feedscript.club_library import LibraryError, club_folder
from feedscript.diagnostics import FeedscriptError, Page
from feedscript.own_library import library_folder
from feedscript.tongues.text import _

LIBRARY_NOT_FETCHED = Page(
    slug="club-library-not-fetched",
    title="The club's library is not taken over",
    why=(
        "A court keeps the club's library as it was fetched last, and takes over only what is "
        "signed by the key that it has known since it first fetched, has lost nothing that was "
        "there before, and can be written down. Else what was there before stays."
    ),
)


class BroughtDown(msgspec.Struct, frozen=True):
    """What came: of the library, and how many lessons of other courts with this court's players."""

    library: FetchedNow
    lessons: int


async def bring_down(
    membership: Membership,
    journal: Path,
    most_s: float,
    transport: httpx.AsyncBaseTransport | None = None,
) -> BroughtDown:
    """The library, and what this court's players did elsewhere, within this time; whatever came
    before it was over stays, and the rest comes the next time. Raises FeedscriptError."""
    library = await fetch(membership, most_s, transport)
    try:
        with anyio.fail_after(most_s):
            async with at_the_door(
                membership.url, membership.certificate, membership.key, transport
            ) as client:
                return BroughtDown(library, await history_down(Door(client), journal))
    except TimeoutError:
        raise NotHeardError(_("it does not answer")) from None


async def fetch(
    membership: Membership, most_s: float, transport: httpx.AsyncBaseTransport | None = None
) -> FetchedNow:
    """Bring what the club has for this court here, within this time. Raises FeedscriptError."""
    try:
        with anyio.fail_after(most_s):
            async with at_the_door(
                membership.url, membership.certificate, membership.key, transport
            ) as client:
                door = Door(client)
                done = await fetch_library(door, club_folder())
                programs = await fetch_programs(door, library_folder())
                return msgspec.structs.replace(done, programs=programs)
    except TimeoutError:
        raise NotHeardError(_("it does not answer")) from None
    except (LibraryError, OSError) as why:
        raise FeedscriptError(
            LIBRARY_NOT_FETCHED.report(
                f"what the club has for this court is not taken over: {why}",
                help="ask whoever looks after the club's server; what this court has, stays",
            )
        ) from why
