"""What a club's server refuses, and why; without anything that the extra `club` brings."""

from __future__ import annotations

from collections.abc import Sequence
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

CODE_SPENT = Page(
    slug="club-code-spent",
    title="The code lets no court join",
    why=(
        "A court's computer joins with a code that the head coach makes; it works once, within ten "
        "minutes. After that the computer has a key of its own."
    ),
)

REQUEST_REFUSED = Page(
    slug="club-request-refused",
    title="The club's server does not understand the request",
    why="Requests have one shape and a size that no honest one passes; others are not read.",
)

SIGN_IN = Page(
    slug="club-sign-in",
    title="Nobody has signed in",
    why="Only people whom the club knows see its courts. Who nobody is, is shown nothing.",
)

NOT_ALLOWED = Page(
    slug="club-not-allowed",
    title="Somebody else may do this",
    why=(
        "The club's courts are looked at by many and stopped by coaches; the head coach alone lets "
        "a court join. Nothing starts, arms or changes a lesson from afar, whoever asks."
    ),
)

COURT_UNKNOWN = Page(
    slug="club-court-unknown",
    title="The club has no such court",
    why="A court belongs to the club from its joining until its key is withdrawn.",
)

LIBRARY_KEY = Page(
    slug="club-library-key",
    title="The key of the club's library cannot be used",
    why=(
        "Each change of the library is signed with the club's key, which lies in a file on the "
        "server. Courts keep its public half and believe no other. A key that is lost cannot be "
        "made again: keep a copy where the server's other secrets are."
    ),
)

LIBRARY_REFUSED = Page(
    slug="club-library-refused",
    title="The club's library is not changed so",
    why=(
        "A text of the club's is used on many courts. It is taken when it passes the check alone, "
        "used once somebody other than its author has approved it, and withdrawn by any coach who "
        "finds a fault."
    ),
)

DESKS_TAKEN = Page(
    slug="club-desks-taken",
    title="Every desk of the club's server is taken",
    why=(
        "A desk on the server is a process that checks a coach's words while they are written. "
        "Only so many are served at a time, so that nobody's check takes the server from the "
        "courts. A desk is free again some minutes after its page was closed."
    ),
)

DESK_NOT_HEARD = Page(
    slug="club-desk-not-heard",
    title="A desk on the club's server does not answer",
    why=(
        "A desk has bounds of memory and time. One that passes them ends, and nobody else is "
        "touched; what was saved is in the club's store, and the next thing asked begins the desk "
        "anew."
    ),
)

NEEDS_TLS = Page(
    slug="club-needs-tls",
    title="A club's server that others reach speaks https",
    why=(
        "What courts send names children, and whoever holds a key or a session may stop courts. "
        "Over plain http everybody on the way could read and take both. Without a certificate "
        "the server therefore listens to this machine alone."
    ),
)

BAD_BIND = Page(
    slug="club-bad-address",
    title="The club's server cannot listen there",
    why=(
        "The server listens at one address and port of this machine, and answers to the names by "
        "which it is reached and no others, so that a foreign page cannot pass its own name off "
        "as this machine's."
    ),
)

NO_ACCOUNT = Page(
    slug="club-no-account",
    title="Nobody signs in by that name",
    why=(
        "People come in by an invitation, which the head coach makes on the page, and sign in by "
        "the name that stands in it. An account that was withdrawn opens no more."
    ),
)

OIDC_UNUSABLE = Page(
    slug="club-oidc-unusable",
    title="The service by which people sign in cannot be used",
    why=(
        "People may sign in by another service that knows them (OpenID Connect). What it says of "
        "them is believed over https only, signed by its own keys, and for accounts that the head "
        "coach has made. Without it everybody who chose a password signs in by that."
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


#: What signing in by another service needs, beside a server's.
FOR_OIDC = ("authlib", "joserfc")
#: What a court's computer needs that belongs to a club.
OF_A_COURT = ("httpx", "websockets")


def what_is_missing(needed: Sequence[str] = (), extra: str = "club") -> Diagnostic | None:
    """Which libraries are not installed, if any; for a server, or of those named."""
    missing = [name for name in needed or _NEEDED if find_spec(name) is None]
    if not missing:
        return None
    return NO_CLUB.report(
        f"a club needs {', '.join(missing)}, which "
        f"{'is' if len(missing) == 1 else 'are'} not installed",
        help=f"pip install 'feedscript[{extra}]'",
    )
