"""The first head coach of a new club, and one who can no longer sign in: let in by whoever has the
server's own terminal."""

from __future__ import annotations

from feedscript.club.store.people import accounts, audit
from feedscript.club.store.people.audit import Act
from feedscript.club.store.store import Store
from feedscript.club.who import Role

#: An invitation from the terminal waits for so long, s.
INVITED_S = 86_400.0
FIRST = "head coach"
#: Where an invitation is taken up; its code follows.
INVITED = "/invitations/"


def first_invitation(store: Store, now_utc_s: float) -> str | None:
    """The code of the first head coach's invitation; None where one can sign in already. Several
    servers of one store give one each: the first that is taken up ends them all."""
    if accounts.anybody(store):
        return None
    with store.writing() as connection:
        waiting = accounts.waiting_head_coach(connection)
        person = waiting or accounts.make(connection, FIRST, FIRST, Role.HEAD_COACH, now_utc_s)
        audit.note(connection, now_utc_s, "the server's terminal", Act.INVITED, about=person.name)
        until_utc_s = now_utc_s + INVITED_S
        return accounts.invite(connection, person.id, until_utc_s, beside=True)


def new_link(store: Store, login: str, now_utc_s: float) -> str | None:
    """The code by which this account's owner chooses another password; None where there is none of
    this sign-in name."""
    found = next(
        (
            one
            for one in accounts.everyone(store)
            if one.login == accounts.login_key(login) and one.withdrawn_utc_s is None
        ),
        None,
    )
    if found is None:
        return None
    with store.writing() as connection:
        about = found.person.name
        audit.note(connection, now_utc_s, "the server's terminal", Act.INVITED, about=about)
        return accounts.invite(connection, found.person.id, now_utc_s + INVITED_S)
