"""Documents of the commands for many courts."""

from __future__ import annotations

import msgspec


class ClubServe(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript club serve`: where it is served."""

    url: str
    invitation: str | None  # where the first head coach comes in; null: there is one
    store: str


class ClubInvite(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript club invite`."""

    code: str  # for `feedscript club join`, once


class ClubPassword(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript club password`."""

    path: str  # behind the club's address: where a new password is chosen, once


class ClubJoin(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript club join`."""

    club: str  # its address
    court: str  # what this court is called there
    host: str  # what this computer is known by there
    file: str  # where the membership lies


class ClubPush(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript club push`."""

    forgot: int  # names forgotten here, as the club has
    sent: int  # events
    waiting: int  # events that the club does not have yet
    not_taken: tuple[str, ...]  # lessons that it does not take
    fetched: int  # lessons of other courts


class ClubFetch(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript club fetch`."""

    texts: int  # of the library, that are here now
    programs: int  # of them
    withdrawn: dict[str, str]  # why, by name
    lessons: int  # of other courts


class ClubExport(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript club export`."""

    file: str  # a journal
    lessons: int
    passed_over: int  # lessons that could not be read


DOCUMENTS = {
    "club-serve": ClubServe,
    "club-invite": ClubInvite,
    "club-password": ClubPassword,
    "club-join": ClubJoin,
    "club-push": ClubPush,
    "club-fetch": ClubFetch,
    "club-export": ClubExport,
}
