"""The club that this computer joined, if any, told of a lesson while it runs."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from feedscript.club.link.membership import Membership, membership_path, read_membership
from feedscript.club.refusals import OF_A_COURT, what_is_missing
from feedscript.diagnostics import Diagnostic, FeedscriptError

if TYPE_CHECKING:
    from feedscript.session.engine.engine import Engine

Link = Callable[["Engine"], AbstractAsyncContextManager[None]]


def club_link() -> Link | None:
    """What is to stand around a lesson; None where no club was joined. Whatever is in the way is
    shown in the lesson, which goes on without its club."""
    if not membership_path().exists():
        return None
    try:
        membership = read_membership()
    except FeedscriptError as unreadable:
        return _only_said(unreadable.diagnostic)
    missing = what_is_missing(OF_A_COURT)
    if missing is not None:
        return _only_said(missing)
    return None if membership is None else _linked(membership)


#: How long a lesson waits for the club before it begins without, s.
FETCH_S = 2.0


def fetch_first(journal: Path | None = None) -> Diagnostic | None:
    """Fetch what the club has for this court, where it belongs to one, and forget whom it has
    forgotten; what kept it from that.

    A lesson needs no club: it goes on with what was fetched last."""
    if not membership_path().exists() or what_is_missing(OF_A_COURT) is not None:
        return None  # the lesson's own link says so
    import anyio

    from feedscript.club.link.fetch import fetch
    from feedscript.club.link.forgetting import journals_here, obey_club

    try:
        membership = read_membership()
        if membership is not None:
            anyio.run(fetch, membership, FETCH_S)
            anyio.run(obey_club, membership, journals_here(journal))
    except FeedscriptError as told:
        return told.diagnostic
    return None


#: How long is fetched after a lesson, s; what has not come by then comes after the next one.
AFTER_S = 5.0


def fetch_after(journal: Path | None = None) -> Diagnostic | None:
    """The lesson is over: bring down the library, and what this court's players did on other
    courts; what kept it from that. A club that is not heard was said to be so in the lesson."""
    if not membership_path().exists() or what_is_missing(OF_A_COURT) is not None:
        return None
    import anyio

    from feedscript.club.link.door import NotHeardError
    from feedscript.club.link.fetch import bring_down
    from feedscript.journal.store import default_journal_path

    try:
        membership = read_membership()
        if membership is not None:
            anyio.run(bring_down, membership, journal or default_journal_path(), AFTER_S)
    except NotHeardError:
        return None
    except FeedscriptError as told:
        return told.diagnostic
    return None


def _only_said(why: Diagnostic) -> Link:
    @asynccontextmanager
    async def around(engine: Engine) -> AsyncIterator[None]:
        engine.notice(why)
        yield

    return around


def _linked(membership: Membership) -> Link:
    # What it brings along is read before the lesson begins.
    from feedscript.club.link.beside import OfLesson, beside_lesson

    def around(engine: Engine) -> AbstractAsyncContextManager[None]:
        of = OfLesson(journal=Path(engine.lesson.journal.path), session_id=engine.lesson.session_id)
        return beside_lesson(engine, of, membership)

    return around
