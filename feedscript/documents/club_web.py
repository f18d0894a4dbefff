"""What a club's server, its courts, its pages and its coaches' desks say to each other.

Both sides are of one version, and a court that is not is told so: nothing here has a number of its
own.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec
from msgspec import UNSET, UnsetType

from feedscript.club import batch, handed, messages, tombstones
from feedscript.club.desks import asked, process
from feedscript.club.launchers.sheets import Sheet
from feedscript.club.library import routes as library
from feedscript.club.library.compare import Compared
from feedscript.club.overview.card import CourtCard
from feedscript.club_library import Change
from feedscript.desk.suggestions import Suggested
from feedscript.documents.common import Diagnostics, Told


class WebRefused(msgspec.Struct, frozen=True, kw_only=True):
    """The answer to what is refused."""

    diagnostic: Told  # why
    wanted: int | UnsetType | None = UNSET  # of events: the number that should come next
    found: Diagnostics | UnsetType = UNSET  # of a text for the library: what the check says of it


class WebOverview(msgspec.Struct, frozen=True, kw_only=True):
    """To the overview: the courts of which there is news."""

    hosts: tuple[str, ...]  # every court that there is
    courts: tuple[CourtCard, ...]  # those that have changed


class WebOverviewFirst(msgspec.Struct, frozen=True, kw_only=True):
    """To the overview, before all else: what may be done and seen there."""

    may_stop: bool  # whether this person may stop a court
    names: bool  # whether players are shown by name


DOCUMENTS: dict[str, type[Any]] = {}
PLAIN: Mapping[str, type[Any]] = {
    "web-refused": WebRefused,
    "web-health": messages.Health,
    "web-invitation": messages.Invitation,
    "web-join-request": messages.JoinRequest,
    "web-join-answer": messages.JoinAnswer,
    "web-events": batch.Batch,
    "web-held": batch.Held,
    "web-have": handed.Have,
    "web-handed": handed.Handed,
    "web-programs": handed.HandedPrograms,
    "web-forgotten": tombstones.Tombstones,
    "web-obeyed": tombstones.Obeyed,
    "web-library-record": messages.Fetched,
    "web-library": library.Shown,
    "web-library-add": library.Add,
    "web-library-judge": library.Judge,
    "web-library-change": Change,
    "web-library-compared": Compared,
    "web-launcher": Sheet,
    "web-stop-request": messages.StopRequest,
    "web-stop-told": messages.StopTold,
    "web-court": messages.Court,
    "web-happened": messages.Happened,
    "web-still": messages.Still,
    "web-overview": WebOverview,
    "web-overview-first": WebOverviewFirst,
    "web-alive": messages.Alive,
    "web-stop-heard": messages.StopHeard,
    "web-stop-ended": messages.StopEnded,
    "web-stop": messages.Stop,
    "web-here": messages.Here,
    "web-fetch": messages.Fetch,
    "web-desk-begun": process.DeskBegun,
    "web-desk-checked": asked.Checked,
    "web-desk-review": asked.AskReview,
    "web-desk-suggest": asked.AskSuggested,
    "web-desk-suggested": Suggested,
}
