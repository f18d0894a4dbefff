"""Lessons that were held of a program: which there are, and the review of each.

They are read from the journal of this machine, and stay on it.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import msgspec

from feedscript.console.review_page import review_page
from feedscript.journal.queries import count_outcomes, sessions_of_program
from feedscript.journal.store import read_journal
from feedscript.journal.stored import SessionRow
from feedscript.launcher.port import Outcome
from feedscript.session.state.events import EVENT_FORMAT
from feedscript.tongues.tongue import Tongue

#: So many are listed, the newest. Design value: a season of a lesson a week.
MOST_LISTED = 40

_ENDINGS = {"finished": "finished", "broken-off": "broken off", None: "not ended"}


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson by its number in the journal; when it was begun, ISO 8601, UTC."""

    number: int
    begun: str
    rehearsal: bool
    ending: str
    balls_left: int
    goes_on: bool  # it was broken off at real launchers, and can be taken up again


def lessons_held(journal_path: Path, title: str, source: Path) -> tuple[Held, ...]:
    """The lessons of the program, newest first. Raises FeedscriptError for a journal that cannot be
    read."""
    if not journal_path.exists():
        return ()
    journal = read_journal(journal_path)
    try:
        found = sessions_of_program(journal, title, str(source.resolve()), MOST_LISTED)
        return tuple(
            Held(
                number=head.id,
                begun=datetime.fromtimestamp(head.begun_utc_s, UTC).isoformat(),
                rehearsal=bool(head.rehearsal),
                ending=_ENDINGS[head.ending],
                balls_left=count_outcomes(journal, head.id)[Outcome.LEFT],
                goes_on=_goes_on(head),
            )
            for head in found
        )
    finally:
        journal.close()


def _goes_on(head: SessionRow) -> bool:
    """As the list on the phone offers it; one that still runs refuses a second host itself."""
    unfinished = not head.rehearsal and head.ending != "finished"
    return unfinished and head.event_format == EVENT_FORMAT


def review_of_lesson(journal_path: Path, number: int, tongue: Tongue) -> str:
    """Its review in a language, as ``feedscript review`` writes it. Raises FeedscriptError."""
    return review_page(str(journal_path), number, tongue)
