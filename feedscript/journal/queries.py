"""What is asked of a journal: each question by its name, each answer held against its shape.

Every function raises FeedscriptError when the disk refuses, and where a row is none that
feedscript writes.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from contextlib import suppress
from typing import Any

import msgspec

from feedscript.journal.redaction import Key, name_key
from feedscript.journal.store import Journal
from feedscript.journal.stored import (
    BallRow,
    EntryRow,
    Name,
    ResultRow,
    SessionRow,
    Shape,
    believed,
)
from feedscript.launcher.port import Outcome


class OnTurn(msgspec.Struct, frozen=True):
    """That a player was fed a ball in a lesson."""

    session_id: int
    token: int
    player: str


# -- lessons --------------------------------------------------------------------------------------


def session_numbers(journal: Journal, before_utc_s: float | None = None) -> tuple[int, ...]:
    """Every lesson in the journal, or each that began before a moment, oldest first."""
    query = "SELECT id FROM session WHERE ?1 IS NULL OR begun_utc_s < ?1 ORDER BY begun_utc_s, id"
    return tuple(int(row["id"]) for row in journal.rows(query, (before_utc_s,)))


def session_of(journal: Journal, number: int) -> SessionRow | None:
    """The head of a lesson, if there is one of this number."""
    rows = journal.rows("SELECT * FROM session WHERE id = ?", (number,))
    return next(iter(believed(journal.path, number, rows, SessionRow)), None)


def broken_off(journal: Journal, most: int) -> tuple[int, ...]:
    """The newest real lessons that did not come to their end, newest first."""
    rows = journal.rows(
        "SELECT id FROM session WHERE rehearsal = 0 AND (ending IS NULL OR ending <> 'finished')"
        " ORDER BY id DESC LIMIT ?",
        (most,),
    )
    return tuple(int(row["id"]) for row in rows)


def sessions_of_program(
    journal: Journal, title: str, source: str, most: int
) -> tuple[SessionRow, ...]:
    """The newest lessons of a program's title (if it has one) or file, newest first."""
    rows = journal.rows(
        "SELECT * FROM session WHERE (title = :title AND title <> '') OR source = :source"
        " ORDER BY begun_utc_s DESC, id DESC LIMIT :most",
        {"title": title, "source": source, "most": most},
    )
    return tuple(
        head for row in rows for head in believed(journal.path, row["id"], [row], SessionRow)
    )


_EARLIER = """
SELECT id FROM session
WHERE (title = :title OR (source = :source AND source <> ''))
AND rehearsal = :rehearsal AND begun_utc_s < :begun_utc_s AND EXISTS (
    SELECT 1 FROM ball WHERE ball.session_id = session.id AND outcome = 'left'
    AND NOT shown AND player IS :player)
ORDER BY begun_utc_s DESC LIMIT :most
"""


def earlier_sessions(
    journal: Journal,
    player: str | None,
    *,
    title: str,
    source: str,
    rehearsal: bool,
    begun_utc_s: float,
    most: int,
) -> tuple[int, ...]:
    """Lessons before a moment of the same title or program in which this player was fed a ball,
    latest first."""
    asked = {"title": title, "source": source, "rehearsal": rehearsal, "most": most}
    values = {**asked, "begun_utc_s": begun_utc_s, "player": player}
    return tuple(int(row["id"]) for row in journal.rows(_EARLIER, values))


_ON_TURN = """
SELECT DISTINCT session.id AS session_id, session.token, ball.player
FROM ball JOIN session ON session.id = ball.session_id
WHERE ball.outcome = 'left' AND NOT ball.shown AND ball.player IS NOT NULL
AND (?1 IS NULL OR session.begun_utc_s >= ?1)
"""


def everyone_on_turn(journal: Journal, since_utc_s: float | None = None) -> tuple[OnTurn, ...]:
    """Who was fed a ball in which lesson, once each, of lessons from a moment on if it is given."""
    rows = journal.rows(_ON_TURN, (since_utc_s,))
    return tuple(OnTurn(row["session_id"], row["token"], str(row["player"])) for row in rows)


# -- balls and results ----------------------------------------------------------------------------


def balls_of(journal: Journal, number: int) -> list[BallRow]:
    """Every ball of a lesson, by its number."""
    query = "SELECT * FROM ball WHERE session_id = ? ORDER BY feed_id"
    return _believed(journal, number, query, BallRow)


def balls_that_left(journal: Journal, number: int) -> list[BallRow]:
    """Those that left, in the order in which they did."""
    query = (
        "SELECT * FROM ball WHERE session_id = ? AND outcome = 'left' ORDER BY left_utc_s, feed_id"
    )
    return _believed(journal, number, query, BallRow)


def count_outcomes(journal: Journal, number: int) -> Mapping[Outcome | None, int]:
    """How many balls of a lesson became what; None where that was never written."""
    query = "SELECT outcome, COUNT(*) AS n FROM ball WHERE session_id = ? GROUP BY outcome"
    told = {row["outcome"]: int(row["n"]) for row in journal.rows(query, (number,))}
    return {outcome: told.get(outcome, 0) for outcome in (*Outcome, None)}


def results_of(journal: Journal, number: int) -> list[ResultRow]:
    """Every record of a lesson in the order in which it was made, those taken back too."""
    query = "SELECT * FROM result WHERE session_id = ? ORDER BY id"
    return _believed(journal, number, query, ResultRow)


def standing_results(journal: Journal, number: int) -> list[ResultRow]:
    """Those that were not taken back."""
    query = "SELECT * FROM result WHERE session_id = ? AND taken_back = 0 ORDER BY id"
    return _believed(journal, number, query, ResultRow)


# -- what happened --------------------------------------------------------------------------------


def entries_of(journal: Journal, number: int, *kinds: str) -> list[EntryRow]:
    """What happened in a lesson of these kinds, in its order."""
    query = f"SELECT * FROM entry WHERE session_id = ? AND kind IN {_marks(kinds)} ORDER BY id"
    return _believed(journal, number, query, EntryRow, kinds)


def entries_but(journal: Journal, number: int, *kinds: str) -> list[EntryRow]:
    """What happened in a lesson of any other kind, in its order."""
    query = f"SELECT * FROM entry WHERE session_id = ? AND kind NOT IN {_marks(kinds)} ORDER BY id"
    return _believed(journal, number, query, EntryRow, kinds)


_RUNGS = """
SELECT entry.data, session.begun_utc_s, session.id AS session_id
FROM entry JOIN session ON session.id = entry.session_id
WHERE entry.kind IN ('stands', 'step') AND session.rehearsal = 0
ORDER BY session.begun_utc_s, entry.id
"""


class RungNote(msgspec.Struct, frozen=True):
    """That a player came to stand on a rung of a progression: the feed of this name."""

    key: Key
    progression: str
    feed: str
    session_id: int


def rungs_so_far(journal: Journal) -> tuple[RungNote, ...]:
    """Where players came to stand in real lessons, oldest first; what cannot be read is left out:
    whoever it was begins on the first rung."""
    notes = []
    for row in journal.rows(_RUNGS):
        with suppress(msgspec.MsgspecError, UnicodeError, RecursionError):
            said = msgspec.json.decode(row["data"], type=_RungSaid)
            if said.player is not None:
                key = name_key(said.player)
                notes.append(RungNote(key, said.progression, said.feed, row["session_id"]))
    return tuple(notes)


class _RungSaid(msgspec.Struct, frozen=True):
    """What of such an entry is looked at."""

    progression: Name
    feed: Name
    player: Name | None = None


# -- how much there is ----------------------------------------------------------------------------


def count_balls(journal: Journal, number: int) -> int:
    """How many balls are written of a lesson; nothing of them is believed yet."""
    return _count(journal, "SELECT COUNT(*) FROM ball WHERE session_id = ?", (number,))


def count_results(journal: Journal, number: int) -> int:
    """How many records, likewise."""
    return _count(journal, "SELECT COUNT(*) FROM result WHERE session_id = ?", (number,))


def count_entries(journal: Journal, number: int, *kinds: str) -> int:
    """How many entries of these kinds, likewise."""
    query = f"SELECT COUNT(*) FROM entry WHERE session_id = ? AND kind IN {_marks(kinds)}"
    return _count(journal, query, (number, *kinds))


def _count(journal: Journal, query: str, values: tuple[Any, ...]) -> int:
    return int(journal.rows(query, values)[0][0])


def _marks(values: Collection[str]) -> str:
    return f"({', '.join('?' for _ in values)})"


def _believed(
    journal: Journal, number: int, query: str, shape: type[Shape], values: Collection[str] = ()
) -> list[Shape]:
    rows = journal.rows(query, (number, *values))
    return believed(journal.path, number, rows, shape)
