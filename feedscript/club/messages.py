"""What the club's server says to courts and to pages beside the events, as JSON; both sides read it
here.

A court's computer opens ``/api/hosts/live`` with its key and gives a sign of life every
:data:`ALIVE_S`. From above comes nothing but STOP, and that there is something to fetch between
lessons. A STOP is *asked* by a person, *heard* when the court says so, and *stopped* only when the
court's launchers have acknowledged it.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, TypeAlias

import msgspec

from feedscript.club.batch import Event, LessonName, Utc
from feedscript.club_library import Change

#: Where a court's computer joins, sends its events, and listens.
JOIN = "/api/hosts/join"
EVENTS = "/api/hosts/events"
LIVE = "/api/hosts/live"
#: Where a page asks for a court's code, stops a court, and follows the news.
INVITE = "/api/invitations"
STOP = "/api/stop"
NEWS = "/api/news"
#: The club's launchers, and its library for courts and for coaches.
LAUNCHERS = "/api/launchers"
HOST_LIBRARY = "/api/hosts/library"
LIBRARY = "/api/library"

#: How often each side of a court's socket gives a sign of life, s.
ALIVE_S = 0.5
#: A court that gave none for so long is not heard, s. Looked for often enough that it is said
#: within 3 s of the last one.
UNHEARD_S = 2.0
#: A STOP that its court has not heard by then is dropped, s: it would stop another lesson. Nobody
#: who pressed it has been told that anything stopped.
STOP_LIFE_S = 30.0
#: The longest message either way, bytes.
MOST_BYTES = 4096

Name: TypeAlias = Annotated[str, msgspec.Meta(max_length=80, pattern=r"\A[^\x00-\x1f\x7f]*\Z")]
OrderId: TypeAlias = Annotated[str, msgspec.Meta(pattern=r"\A[0-9a-f]{16}\Z")]
Says: TypeAlias = Annotated[str, msgspec.Meta(max_length=500, pattern=r"\A[^\x00]*\Z")]


class Health(msgspec.Struct, frozen=True):
    """Whether the server works; for whatever starts it again, so without a word of the club."""

    well: bool  # false: it is to be started again


class Invitation(msgspec.Struct, frozen=True, kw_only=True):
    """A one-time code for a court, and until when it works."""

    code: str  # for `feedscript club join`
    until_utc_s: float


class JoinRequest(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A one-time code, and what the court is to be called."""

    code: Annotated[str, msgspec.Meta(max_length=40)]
    name: Annotated[Name, msgspec.Meta(min_length=1)]


class JoinAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The court's own name and key at the club; the key is told this once."""

    host: str
    key: str


class Alive(msgspec.Struct, frozen=True, kw_only=True, tag="alive", forbid_unknown_fields=True):
    """From a court: it is there; which lesson runs; how many events it could not send yet."""

    lesson: LessonName | None = None
    waiting: Annotated[int, msgspec.Meta(ge=0, le=10**9)] = 0


class StopHeard(msgspec.Struct, frozen=True, tag="stop-heard", forbid_unknown_fields=True):
    """From a court: the STOP has come, and was given to the lesson."""

    order: OrderId


class StopEnded(
    msgspec.Struct, frozen=True, kw_only=True, tag="stop-ended", forbid_unknown_fields=True
):
    """From a court: its launchers have acknowledged the STOP, or, where ``says`` has words, what is
    known of each of them; or, not ``stopped``, why there was nothing to stop."""

    order: OrderId
    stopped: bool
    says: Says = ""


FromHost: TypeAlias = Alive | StopHeard | StopEnded


class Stop(msgspec.Struct, frozen=True, tag="stop"):
    """To a court: stop what runs. It may come again; the order's name tells."""

    order: str
    by: str


class Here(msgspec.Struct, frozen=True, tag="here"):
    """To a court: the answer to each sign of life."""


class Fetch(msgspec.Struct, frozen=True, tag="fetch"):
    """To a court: there is something to fetch, when no lesson runs."""


ToHost: TypeAlias = Stop | Here | Fetch


class StopRequest(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """From a page: stop this court."""

    host: Annotated[str, msgspec.Meta(max_length=32)]


class Fetched(msgspec.Struct, frozen=True, kw_only=True):
    """For a court: the record of the club's library, and the public key that verifies it."""

    key: str
    changes: tuple[Change, ...]


class StopState(StrEnum):
    """How far a STOP has come; in this order."""

    ASKED = "asked"
    HEARD = "heard"
    LOST = "lost"  # not acknowledged within STOP_LIFE_S
    STOPPED = "stopped"  # every launcher acknowledged it; with words: what is known of each
    NOTHING = "nothing"  # the court says that there was nothing to stop, and why


class StopTold(msgspec.Struct, frozen=True, kw_only=True, tag="stop"):
    """News: how far a STOP has come."""

    order: str
    host: str
    by: str
    state: StopState
    says: str = ""


class Court(msgspec.Struct, frozen=True, kw_only=True, tag="court"):
    """News: a court is heard, or is not any more, or another lesson runs on it. ``since_utc_s`` is
    when it was last heard, or 0 for never."""

    host: str
    name: str
    heard: bool
    since_utc_s: Utc
    lesson: str | None = None
    waiting: int = 0


class Happened(msgspec.Struct, frozen=True, kw_only=True, tag="happened"):
    """News: some of a lesson's events, in order; to pages without what only some may read."""

    host: str
    lesson: str
    events: tuple[Event, ...]


class Still(msgspec.Struct, frozen=True, tag="still"):
    """To a page: the server is there."""


News: TypeAlias = Court | StopTold | Happened
ToPage: TypeAlias = News | Still
