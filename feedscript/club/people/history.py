"""Lessons of the club as a journal again: for one player's record, and for whoever takes them home.

What a court's journal had as events stands in it byte for byte; balls and results are made of the
events, as the court made them. Lessons from before formats of events were counted have their events
alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import closing
from pathlib import Path

import msgspec
from sqlalchemy import Connection

from feedscript.club.batch import Event
from feedscript.club.store.people import players
from feedscript.club.store.people.players import Whole
from feedscript.club.store.store import Store
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.journal.store import Journal, SessionStart, open_journal
from feedscript.journal.stored import EntryRow
from feedscript.review.record.figures import Record, record_of
from feedscript.review.record.history import history_in
from feedscript.session.state.event_log import write_entry


def write_lessons(journal: Journal, lessons: Iterable[Whole]) -> list[Diagnostic]:
    """Write lessons into a journal; what is said of those that no feedscript wrote, which are
    passed over."""
    passed_over = []
    for one in lessons:
        try:
            with journal.together():
                _write(journal, one)
        except FeedscriptError as trouble:
            passed_over.append(trouble.diagnostic)
    return passed_over


def _write(journal: Journal, lesson: Whole) -> None:
    head = lesson.head
    number = journal.begin_session(
        SessionStart(
            token=int(lesson.lesson.partition("-")[2], 16),
            begun_utc_s=head.begun_utc_s,
            title=head.title,
            source=head.source,
            rehearsal=head.rehearsal,
            plan=head.plan.encode(),
            profiles=head.profiles.encode(),
            group_json=head.group_json,
            event_format=head.event_format,
        )
    )
    for event in lesson.events:
        if head.event_format:
            write_entry(journal, number, _entry(event))
        else:  # its events do not tell all of its balls, which stayed on the court
            row = {"session_id": number, **msgspec.structs.asdict(_entry(event))}
            journal.write("entry", row)


def _entry(event: Event) -> EntryRow:
    return EntryRow(utc_s=event.utc_s, kind=event.kind, launcher=event.launcher, data=event.data)


def journal_of(store: Store, player: str) -> tuple[Journal, list[Diagnostic]]:
    """A journal in memory of every lesson in which a player is named, and what was passed over."""
    journal = open_journal(None)
    try:
        with store.reading() as connection:
            named = players.lessons_with(connection, player)
            passed_over = write_lessons(journal, _whole(connection, named))
    except BaseException:
        journal.close()
        raise
    return journal, passed_over


def _whole(connection: Connection, named: Iterable[tuple[str, str]]) -> Iterable[Whole]:
    for host, lesson in named:
        found = players.whole(connection, host, lesson)
        if found is not None:
            yield found


def record_in_club(store: Store, player: str) -> Record:
    """A player's record over all courts. Raises FeedscriptError where there was no ball."""
    journal, passed_over = journal_of(store, player)
    with closing(journal):
        return record_of(history_in(journal, player, passed_over))


def take_home(store: Store, path: Path, host: str | None = None) -> tuple[int, list[Diagnostic]]:
    """Write the lessons of one court's computer, or of all, into a new journal, oldest first; how
    many, and what was passed over. Raises FeedscriptError when it cannot be written."""
    with closing(open_journal(path)) as journal, store.reading() as connection:
        named = players.lessons_of(connection, host)
        passed_over = write_lessons(journal, _whole(connection, named))
        return len(named) - len(passed_over), passed_over
