"""What this court's players did on other courts, kept beside its journal as one more: reviews of
one player over all lessons read every journal of the folder, with or without a network.

It can be fetched anew at any time. Where two courts recorded the same player while neither heard
of the other, both lessons stay, each as its court has it; of one lesson twice the fuller counts.
"""

from __future__ import annotations

import os
from contextlib import closing, suppress
from pathlib import Path

import msgspec

from feedscript.club.handed import HandedLesson, Have
from feedscript.club.link.door import NOT_TAKEN, Door
from feedscript.diagnostics import FeedscriptError
from feedscript.host.private_file import write_private
from feedscript.journal.retention import delete_lessons
from feedscript.journal.store import Journal, SessionStart, open_journal
from feedscript.journal.stored import EntryRow
from feedscript.session.state.event_log import write_entry


class Kept(msgspec.Struct):
    """Of each lesson: its number in the file, and the number of its last event."""

    lessons: dict[str, tuple[int, int]] = {}


def history_path(journal: Path) -> Path:
    """Beside the journal."""
    return journal.with_name("from-club.sqlite")


def _noted_path(journal: Path) -> Path:
    return journal.with_name("from-club.json")


def _noted(journal: Path) -> Kept:
    if history_path(journal).exists():
        with suppress(OSError, msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
            return msgspec.json.decode(_noted_path(journal).read_bytes(), type=Kept)
        history_path(journal).unlink()  # nobody knows any more what is in it
    return Kept()


async def fetch_history(door: Door, journal: Path) -> int:
    """Fetch what is new; how many lessons. Raises FeedscriptError, and OSError for a full disk."""
    kept, fetched = _noted(journal), 0
    while True:
        have = Have({key: number for key, (_, number) in kept.lessons.items()})
        handed = await door.history(have)
        if not handed.lessons:
            return fetched
        for lesson in handed.lessons:
            _write(journal, kept, lesson)
            fetched += 1


async def history_down(door: Door, journal: Path) -> int:
    """The same; what cannot be written down is said as every other trouble. Raises
    FeedscriptError."""
    try:
        return await fetch_history(door, journal)
    except OSError as trouble:
        raise FeedscriptError(
            NOT_TAKEN.report(
                f"what other courts played cannot be written down here: {trouble}",
                help="free the disk, then run this again",
            )
        ) from trouble


def _write(journal: Path, kept: Kept, lesson: HandedLesson) -> None:
    """One lesson, in the place of what there was of it; noted when it is there whole."""
    path = history_path(journal)
    old = kept.lessons.pop(lesson.key, None)
    if old is not None and old[0]:
        delete_lessons(path, [old[0]])
    number = 0
    with suppress(FeedscriptError), closing(open_journal(path)) as file, file.together():
        number = _written(file, lesson)  # one that cannot be read here is not asked for again
    kept.lessons[lesson.key] = (number, lesson.events[-1].number)
    beside = _noted_path(journal).with_suffix(".new")
    write_private(beside, msgspec.json.encode(kept))
    os.replace(beside, _noted_path(journal))


def _written(file: Journal, lesson: HandedLesson) -> int:
    head = lesson.header
    number = file.begin_session(
        SessionStart(
            token=int(lesson.key.rpartition("-")[2], 16),
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
    for one in lesson.events:
        row = EntryRow(utc_s=one.utc_s, kind=one.kind, launcher=one.launcher, data=one.data)
        write_entry(file, number, row)
    return number
