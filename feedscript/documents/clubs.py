"""Documents of the commands for many courts, and of what a club exports of a person."""

from __future__ import annotations

import msgspec
from msgspec import UNSET, UnsetType

from feedscript.documents.common import Moment
from feedscript.documents.review import KeptLesson


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


class NamedIn(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson in which the player is named."""

    begun: Moment | None  # null: it cannot be read
    could_not_be_read: str | UnsetType = UNSET  # why


class FamilyLink(msgspec.Struct, frozen=True, kw_only=True):
    """A link by which the family reads the player's page."""

    made_by: str  # a coach, by name
    made: Moment  # when it was made
    until: Moment  # when it ends by itself
    withdrawn: Moment | None  # null: it was not


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody read or changed something of the player."""

    when: Moment  # it was
    who: str  # by name, as it then was
    what: str  # which act of the club's log
    about: str  # more of it; empty: nothing


class ClubPlayer(msgspec.Struct, frozen=True, kw_only=True):
    """What the club's page of a player exports: all that the club knows of one person."""

    player: str
    told: Moment  # when this was written
    lessons: tuple[KeptLesson, ...]  # with a ball of the player's, without anybody else's name
    named_in: tuple[NamedIn, ...]
    could_not_be_read: tuple[str, ...]  # why, of lessons that were passed over
    groups: tuple[str, ...]  # by name
    family_links: tuple[FamilyLink, ...]
    readings: tuple[Reading, ...]


class OwnProgram(msgspec.Struct, frozen=True, kw_only=True):
    """A program that a coach keeps on the server."""

    name: str
    words: str  # its text


class HandedToCourts(OwnProgram, frozen=True, kw_only=True):
    """A program that a coach has handed to courts."""

    handed: Moment  # when


class Deed(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that was done with the account."""

    when: Moment  # it was
    what: str  # which act of the club's log


class ClubAccount(msgspec.Struct, frozen=True, kw_only=True):
    """What the club exports of an account: all that it knows of somebody who signs in."""

    name: str
    sign_in_name: str | None  # null: by another service
    role: str  # in the club
    made: Moment  # when
    withdrawn: Moment | None  # null: it was not
    told: Moment  # when this was written
    groups: tuple[str, ...]  # by name
    programs: tuple[OwnProgram, ...]
    handed_to_courts: tuple[HandedToCourts, ...]
    did: tuple[Deed, ...]


DOCUMENTS = {
    "club-player": ClubPlayer,
    "club-account": ClubAccount,
    "club-serve": ClubServe,
    "club-invite": ClubInvite,
    "club-password": ClubPassword,
    "club-join": ClubJoin,
    "club-push": ClubPush,
    "club-fetch": ClubFetch,
    "club-export": ClubExport,
}
