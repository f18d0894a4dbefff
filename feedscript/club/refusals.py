"""What a club's server refuses, and why; without anything that the extra `club` brings."""

from __future__ import annotations

from importlib.util import find_spec

from feedscript.diagnostics import Diagnostic, Page

STORE_UNUSABLE = Page(
    slug="club-store-unusable",
    title="The club's store cannot be written or read",
    why=(
        "A court's events count as held only when the club's store has them on its disk; without "
        "a store that can be written, the server answers that it cannot take them, and the courts "
        "keep them and try again. The database may be down, full, read-only, of a newer version, "
        "or of something else than feedscript. What cannot be used is left as it is."
    ),
)

BATCH_REFUSED = Page(
    slug="club-batch-refused",
    title="What a court sent is not taken",
    why=(
        "A court sends each lesson's events in the order in which they happened, numbered from 1 "
        "without a gap, and the club keeps each of them once. A batch with a gap, too large, in "
        "another shape, or telling something else under a number that is held already, is refused "
        "whole: nothing of it is kept, and the court is told from which number to go on."
    ),
)

HOST_UNKNOWN = Page(
    slug="club-host-unknown",
    title="The club does not know this court's key",
    why=(
        "A court's computer joins with a code that works once, and has a key of its own from then "
        "on; it sends only what is its own. A key that the club has withdrawn, or never gave, "
        "opens nothing."
    ),
)

NO_CLUB = Page(
    slug="needs-club",
    title="A club's server needs the extra `club`",
    why=(
        "The club's store and server are made with libraries that one court alone does not need; "
        "they come with the extra `club`."
    ),
)

_NEEDED = ("alembic", "psycopg", "sqlalchemy", "starlette", "uvicorn")


def what_is_missing() -> Diagnostic | None:
    """Which libraries are not installed, if any."""
    missing = [name for name in _NEEDED if find_spec(name) is None]
    if not missing:
        return None
    return NO_CLUB.report(
        f"a club's server needs {', '.join(missing)}, which "
        f"{'is' if len(missing) == 1 else 'are'} not installed",
        help="pip install 'feedscript[club]'",
    )
