"""Lessons that were held of a program: which there are, and the review of each.

They are read from the journal of this machine, and stay on it.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

import msgspec

from feedscript.console.review_page import review_page
from feedscript.desk.files import Programs
from feedscript.journal.queries import count_outcomes, session_of, sessions_of_program
from feedscript.journal.store import read_journal
from feedscript.journal.stored import SessionRow
from feedscript.launcher.port import Outcome
from feedscript.session.state.events import EVENT_FORMAT
from feedscript.tongues.text import p_
from feedscript.tongues.tongue import Tongue

#: So many are listed, the newest. Design value: a season of a lesson a week.
MOST_LISTED = 40

_ENDINGS = {
    "finished": p_("lesson", "finished"),
    "broken-off": p_("lesson", "broken off"),
    None: p_("lesson", "not ended"),
}


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


def program_of(journal_path: Path, number: int, programs: Programs) -> str:
    """The name of the own program that a lesson was held of; "" where it is not here any more.

    Raises FeedscriptError for a journal that cannot be read.
    """
    journal = read_journal(journal_path)
    try:
        head = session_of(journal, number)
    finally:
        journal.close()
    own = (one.name for one in programs.listed() if not one.shipped and not one.refused)
    source = "" if head is None else head.source
    return next((name for name in own if str(programs.path(name).resolve()) == source), "")


def review_of_lesson(
    journal_path: Path, number: int, tongue: Tongue, programs: Programs | None = None
) -> str:
    """Its review in a language, as ``feedscript review`` writes it, and with the way to its program
    among ``programs``. Raises FeedscriptError."""
    name = "" if programs is None else program_of(journal_path, number, programs)
    opens = f"/?next={number}&program={quote(name)}" if name else ""
    return review_page(str(journal_path), number, tongue, opens)
