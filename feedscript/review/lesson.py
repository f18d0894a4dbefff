"""A lesson as the journal remembers it: who was fed what, when, and what became of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Result
from feedscript.session.journal import Journal

NO_SUCH_LESSON = Page(
    slug="no-such-lesson",
    title="The journal holds no such lesson",
    why="A report is made from one lesson in the journal; each has a number, counted from 1.",
)


NO_SUCH_PLAYER = Page(
    slug="no-such-player",
    title="Nobody of this name was on turn in the lesson",
    why="A page to hand out shows one player's balls alone; the name is the one in the records.",
)

NO_SYNC_TONE = Page(
    slug="no-sync-tone",
    title="The lesson holds no sync tone to line a video up with",
    why=(
        "Marks are placed in a video by a moment known to both: the sync tone, played from the "
        "page while the camera runs, or the first ball, given by its place in the video."
    ),
)

#: The kind of journal entry written when the sync tone is played.
SYNC_TONE = "sync-tone"


#: The errors in the order in which they lie on court, from the net outwards.
ERRORS = (Result.NET, Result.LEFT, Result.RIGHT, Result.LONG)


@dataclass(frozen=True, slots=True)
class Ball:
    """One ball that left the launcher; ``left_utc_s`` in seconds of UTC since 1970."""

    feed_id: int
    number: int
    feed: str
    player: str | None
    left_utc_s: float
    result: Result | None


@dataclass(frozen=True, slots=True)
class Lesson:
    """One lesson, whole. ``balls`` holds only those that left, in the order they left."""

    number: int
    title: str
    source: str
    rehearsal: bool
    begun_utc_s: float
    ended_utc_s: float | None
    ending: str | None
    seed: int | None
    balls: tuple[Ball, ...]
    not_sent: int
    unknown: int

    @property
    def players(self) -> tuple[str, ...]:
        """Everyone who was on turn, in the order of their first ball."""
        return tuple(dict.fromkeys(ball.player for ball in self.balls if ball.player))

    @property
    def feeds(self) -> tuple[str, ...]:
        """Every feed that left, in the order of its first ball."""
        return tuple(dict.fromkeys(ball.feed for ball in self.balls))

    def of(self, player: str | None) -> tuple[Ball, ...]:
        """The balls of one player."""
        return tuple(ball for ball in self.balls if ball.player == player)


def turns_of(balls: Iterable[Ball]) -> tuple[tuple[Ball, ...], ...]:
    """Cut into turns: balls of one player, one after another, without another's in between."""
    return tuple(tuple(run) for _, run in groupby(balls, key=lambda ball: ball.player))


def lesson_numbers(journal: Journal) -> tuple[int, ...]:
    """Every lesson in the journal, oldest first."""
    rows = journal.rows("SELECT id FROM session ORDER BY begun_utc_s, id")
    return tuple(int(row["id"]) for row in rows)


def read_lesson(journal: Journal, number: int | None = None) -> Lesson:
    """One lesson by its number, the latest when none is given.

    Raises FeedscriptError when the journal holds none, or none of that number.
    """
    numbers = lesson_numbers(journal)
    if not numbers or (number is not None and number not in numbers):
        raise _no_such(journal, number, numbers)
    chosen = numbers[-1] if number is None else number
    head = journal.rows("SELECT * FROM session WHERE id = ?", (chosen,))[0]
    return Lesson(
        number=chosen,
        title=head["title"],
        source=head["source"],
        rehearsal=bool(head["rehearsal"]),
        begun_utc_s=head["begun_utc_s"],
        ended_utc_s=head["ended_utc_s"],
        ending=head["ending"],
        seed=_seed(head["plan"]),
        balls=_balls(journal, chosen),
        not_sent=_count(journal, chosen, Outcome.NOT_SENT),
        unknown=_count(journal, chosen, Outcome.UNKNOWN),
    )


def _no_such(journal: Journal, number: int | None, numbers: tuple[int, ...]) -> FeedscriptError:
    return FeedscriptError(
        NO_SUCH_LESSON.report(
            "the journal is empty" if not numbers else f"there is no lesson {number}",
            device=journal.path,
            help=(
                "run a lesson first, or name another file with --journal"
                if not numbers
                else f"lessons in this journal: {numbers[0]} to {numbers[-1]}"
            ),
        )
    )


class _PlanHead(msgspec.Struct):
    seed: int | None = None


def _seed(plan: bytes) -> int | None:
    try:
        return msgspec.json.decode(plan, type=_PlanHead).seed
    except msgspec.DecodeError:
        return None


def _count(journal: Journal, number: int, outcome: Outcome) -> int:
    query = "SELECT COUNT(*) AS n FROM ball WHERE session_id = ? AND outcome = ?"
    return int(journal.rows(query, (number, outcome.value))[0]["n"])


def _balls(journal: Journal, number: int) -> tuple[Ball, ...]:
    """Those that left, each with its latest record that was not taken back."""
    rows = journal.rows(
        "SELECT feed_id, ball_no, feed, player, left_utc_s,"
        " (SELECT result FROM result WHERE result.session_id = ball.session_id"
        "  AND result.feed_id = ball.feed_id AND taken_back = 0 ORDER BY id DESC LIMIT 1) AS made"
        " FROM ball WHERE session_id = ? AND outcome = ? ORDER BY left_utc_s, feed_id",
        (number, Outcome.LEFT.value),
    )
    return tuple(
        Ball(
            feed_id=row["feed_id"],
            number=row["ball_no"],
            feed=row["feed"],
            player=row["player"],
            left_utc_s=row["left_utc_s"],
            result=Result(row["made"]) if row["made"] else None,
        )
        for row in rows
    )


def lesson_before(journal: Journal, lesson: Lesson) -> Lesson | None:
    """The latest earlier lesson of the same title that was as real as this one."""
    rows = journal.rows(
        "SELECT id FROM session WHERE title = ? AND rehearsal = ? AND begun_utc_s < ?"
        " ORDER BY begun_utc_s DESC LIMIT 1",
        (lesson.title, int(lesson.rehearsal), lesson.begun_utc_s),
    )
    return read_lesson(journal, int(rows[0]["id"])) if rows else None


def sync_tone_utc_s(journal: Journal, lesson: Lesson) -> float | None:
    """When the sync tone was last played in this lesson; None if it never was."""
    rows = journal.rows(
        "SELECT utc_s FROM entry WHERE session_id = ? AND kind = ? ORDER BY id DESC LIMIT 1",
        (lesson.number, SYNC_TONE),
    )
    return float(rows[0]["utc_s"]) if rows else None
