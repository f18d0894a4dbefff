"""What is to be sent next. The journal itself is the queue; it is only read."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

import msgspec

from feedscript.club.batch import (
    MOST_BODY_BYTES,
    MOST_EVENTS,
    MOST_LESSONS,
    Batch,
    Event,
    Header,
    Mark,
    Part,
    lesson_name,
)
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page, Severity
from feedscript.journal.outgoing import (
    Numbered,
    changes_seen,
    entries_behind,
    entry_at,
    grown_behind,
    lessons_told,
    row_of,
)
from feedscript.journal.queries import session_of
from feedscript.journal.store import Journal
from feedscript.journal.stored import EntryRow, SessionRow
from feedscript.tongues.text import _

PUT_BACK = Page(
    slug="club-journal-put-back",
    title="The journal was put back from an older copy",
    severity=Severity.WARNING,
    why=(
        "The club has each event of a lesson once, by its number. Where a court's journal was lost "
        "and an older copy was put in its place, what is written from then on has numbers that the "
        "club has already for something else. Nothing of such a lesson is mixed: the club keeps "
        "what it has, the court what it wrote since, and other lessons are sent as always."
    ),
)

#: What is sent at once: some way below what is taken, for JSON in JSON grows.
AT_ONCE_BYTES = MOST_BODY_BYTES // 4


class _Lesson(msgspec.Struct):
    """How far one lesson is sent."""

    session_id: int
    name: str
    entries: int
    held: int = 0
    row: int | None = None  # of the last one held; None while nobody has looked
    sent: tuple[int, int] = (0, 0)  # the last number that was sent, and its row

    @property
    def waiting(self) -> int:
        return max(0, self.entries - self.held)


class Outbox:
    """The entries of a journal that the club does not have, by what is known of what it has."""

    def __init__(
        self, journal: Journal, held: Mapping[str, int], elsewhere: Collection[str] = ()
    ) -> None:
        self._journal = journal
        self._lessons: dict[int, _Lesson] = {}
        self._newest_row = 0
        self._seen = -1
        self._aside: dict[str, Diagnostic] = {}
        self._held = dict(held)
        self._elsewhere = frozenset(elsewhere)
        self.look()

    def look(self) -> bool:
        """See whether more was written since; whether anything waits."""
        seen = changes_seen(self._journal)
        if seen != self._seen:
            self._seen = seen
            grown, self._newest_row = grown_behind(self._journal, self._newest_row)
            if grown.keys() - self._lessons.keys():
                self._meet()
            for session_id in grown.keys() & self._lessons.keys():
                self._lessons[session_id].entries += grown[session_id]
        return any(self._to_send())

    def _meet(self) -> None:
        """Lessons that are new here."""
        for told in lessons_told(self._journal):
            name = lesson_name(told.session_id, told.token)
            if told.session_id not in self._lessons and name not in self._elsewhere:
                held = self._held.get(name, 0)
                self._lessons[told.session_id] = _Lesson(told.session_id, name, 0, held)

    def _to_send(self) -> Iterator[_Lesson]:
        """The newest first: it is the one that somebody may be looking at."""
        for session_id in sorted(self._lessons, reverse=True):
            lesson = self._lessons[session_id]
            if lesson.waiting and lesson.name not in self._aside:
                yield lesson

    @property
    def waiting(self) -> int:
        """How many entries the club does not have."""
        return sum(lesson.waiting for lesson in self._lessons.values())

    @property
    def held(self) -> Mapping[str, int]:
        """What is known of what it has."""
        return self._held

    @property
    def aside(self) -> Mapping[str, Diagnostic]:
        """Lessons that it does not take, or that cannot be read; and why."""
        return self._aside

    def know(self, held: Mapping[str, int]) -> None:
        """The club says what it has, of all lessons: send from there on. Of one of which it has
        more than the journal, an older copy was put back: it is set aside."""
        self._held = dict(held)
        self.look()  # somebody else may have written and sent more since
        for lesson in self._lessons.values():
            lesson.held, lesson.row = self._held.get(lesson.name, 0), None
            if lesson.held > lesson.entries:
                self.set_aside(lesson.name, _put_back(lesson))

    def acknowledge(self, held: Mapping[str, int]) -> None:
        """The club says what it has, of the lessons that were just sent."""
        self._held |= held
        for lesson in self._lessons.values():
            if held.get(lesson.name, lesson.held) != lesson.held:
                lesson.held = held[lesson.name]
                lesson.row = lesson.sent[1] if lesson.sent[0] == lesson.held else None

    def set_aside(self, name: str, why: Diagnostic) -> None:
        """This one is not sent: the others go on without it."""
        self._aside[name] = why

    def next_batch(self, most_lessons: int = MOST_LESSONS) -> Batch | None:
        """What is to be sent next; None where nothing waits."""
        parts: list[Part] = []
        room = AT_ONCE_BYTES
        for lesson in list(self._to_send()):
            if len(parts) == most_lessons or (parts and room <= 0):
                break
            try:
                part = self._part(lesson, room)
            except FeedscriptError as unreadable:
                self.set_aside(lesson.name, unreadable.diagnostic)
                continue
            if part is not None:
                parts.append(part)
                room -= _size(part)
        return Batch(tuple(parts)) if parts else None

    def _part(self, lesson: _Lesson, room: int) -> Part | None:
        head = session_of(self._journal, lesson.session_id)
        if head is None:  # thrown away since: whoever did that wants it sent no more
            lesson.entries = lesson.held
            return None
        if lesson.row is None:
            lesson.row = row_of(self._journal, lesson.session_id, lesson.held)
        rows = entries_behind(self._journal, lesson.session_id, lesson.row, MOST_EVENTS)
        rows = _as_fits(rows, room)
        events = tuple(
            _event(number, one.entry) for number, one in enumerate(rows, lesson.held + 1)
        )
        if not events:
            lesson.entries = lesson.held
            return None
        lesson.sent = (events[-1].number, rows[-1].row)
        before = entry_at(self._journal, lesson.session_id, lesson.row)
        return Part(
            lesson=lesson.name,
            header=_header(head) if lesson.held == 0 else None,
            behind=None if before is None else _mark(before),
            events=events,
        )


def _put_back(lesson: _Lesson) -> Diagnostic:
    return PUT_BACK.report(
        _(
            "the club has {held} events of lesson {number}, this computer only {entries}: its"
            " journal was put back from an older copy",
            held=lesson.held,
            number=lesson.session_id,
            entries=lesson.entries,
        ),
        help=_(
            "nothing of this lesson is sent any more; `feedscript club export` on the club's"
            " server gives back what the club has of it"
        ),
    )


def _as_fits(rows: list[Numbered], room: int) -> list[Numbered]:
    """As many as there is room for; one at least."""
    fit = 0
    while fit < len(rows) and (fit == 0 or room > 0):
        room -= len(rows[fit].entry.data)
        fit += 1
    return rows[:fit]


def _event(number: int, entry: EntryRow) -> Event:
    return Event(
        number=number,
        utc_s=entry.utc_s,
        kind=entry.kind,
        launcher=entry.launcher,
        data=entry.data,
    )


def _mark(entry: EntryRow) -> Mark:
    return Mark(utc_s=entry.utc_s, kind=entry.kind, launcher=entry.launcher)


def _header(head: SessionRow) -> Header:
    return Header(
        begun_utc_s=head.begun_utc_s,
        title=head.title,
        source=head.source,
        rehearsal=bool(head.rehearsal),
        plan=head.plan.decode("utf-8", "replace"),
        profiles=head.profiles.decode("utf-8", "replace"),
        group_json=head.group_json,
        event_format=head.event_format,
    )


def _size(part: Part) -> int:
    head = 0 if part.header is None else len(part.header.plan) + len(part.header.profiles)
    return head + sum(len(event.data) for event in part.events)
