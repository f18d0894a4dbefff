"""A court's computer obeys: whoever the club has forgotten is forgotten in its journals too.

It needs nothing that a club's server needs. To be done while no lesson runs: once it is done, what
is written afterwards under the same name is a new player's.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import closing
from pathlib import Path

import msgspec

from feedscript.club.tombstones import Tombstones
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.redaction import names_found
from feedscript.journal.retention import NOBODY_TO_FORGET, forget_player
from feedscript.journal.store import read_journal


class Forgot(msgspec.Struct, frozen=True, kw_only=True):
    """What was forgotten in one journal: so many names, in so many rows and clips."""

    journal: Path
    names: int
    rows: int
    clips: int


def obey(journals: Iterable[Path], stones: Tombstones) -> list[Forgot]:
    """Take every forgotten name out of these journals; what was taken out of which.

    It may be done again, and goes on where it was broken off. Raises FeedscriptError for the first
    journal that cannot be read or rewritten: then the club is not to be told that it was obeyed.
    """
    return [one for path in journals if (one := _obey(path, stones)).names]


def _obey(path: Path, stones: Tombstones) -> Forgot:
    with closing(read_journal(path)) as journal:
        names = names_found(journal.rows, stones.names_in)
    went = rows = clips = 0
    # The longest first: "Ann Lee" is not "Ann", also where both are forgotten.
    for name in sorted(names, key=len, reverse=True):
        try:
            done = forget_player(path, name)
        except FeedscriptError as trouble:
            if trouble.diagnostic.slug != NOBODY_TO_FORGET.slug:
                raise
            continue  # it stood in a longer name only, or went with one
        went += 1
        rows += done.lessons + done.balls + done.notes
        clips += done.clips
    return Forgot(journal=path, names=went, rows=rows, clips=clips)
