"""Accounts: one is made by an invitation, and opens with a password that its owner chose."""

from __future__ import annotations

import msgspec
from sqlalchemy import Connection, RowMapping, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from feedscript.club.store.people.tables import (
    DEVICE,
    FAMILY_LINK,
    GROUP_COACH,
    INVITATION,
    PERSON,
    SIGN_IN,
)
from feedscript.club.store.people.tokens import hash_of, new_id, new_token
from feedscript.club.store.programs import take_everything_back
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role


class Account(msgspec.Struct, frozen=True, kw_only=True):
    """An account as the head coach sees it. ``invited``: no password was chosen yet."""

    person: Person
    login: str
    invited: bool
    made_utc_s: float
    withdrawn_utc_s: float | None


class LoginTakenError(Exception):
    """Another account has this sign-in name."""


class LastHeadCoachError(Exception):
    """Without this account nobody could run the club's accounts any more."""


def login_key(login: str) -> str:
    """A sign-in name as it is compared."""
    return login.strip().casefold()


def _person(row: RowMapping) -> Person:
    return Person(id=row["id"], name=row["name"], role=Role(row["role"]))


_STANDS = PERSON.c.withdrawn_utc_s.is_(None)


def everyone(store: Store) -> list[Account]:
    """Every account, those that stand first, by name."""
    query = select(PERSON).order_by(PERSON.c.withdrawn_utc_s.is_not(None), PERSON.c.name)
    with store.reading() as connection:
        rows = connection.execute(query).mappings().all()
    return [
        Account(
            person=_person(row),
            login=row["login"],
            invited=row["password"] is None,
            made_utc_s=row["made_utc_s"],
            withdrawn_utc_s=row["withdrawn_utc_s"],
        )
        for row in rows
    ]


def anybody(store: Store) -> bool:
    """Whether a head coach has taken up an invitation."""
    query = select(PERSON.c.id).where(
        _STANDS, PERSON.c.role == Role.HEAD_COACH, PERSON.c.password.is_not(None)
    )
    with store.reading() as connection:
        return connection.execute(query.limit(1)).first() is not None


def waiting_head_coach(connection: Connection) -> Person | None:
    """A head coach who was invited and has no password yet."""
    query = select(PERSON).where(
        _STANDS, PERSON.c.role == Role.HEAD_COACH, PERSON.c.password.is_(None)
    )
    row = connection.execute(query.order_by(PERSON.c.made_utc_s)).mappings().first()
    return None if row is None else _person(row)


def make(connection: Connection, login: str, name: str, role: Role, now_utc_s: float) -> Person:
    """An account without a password. Raises LoginTakenError."""
    person = Person(id=new_id(), name=name, role=role)
    row = {
        "id": person.id,
        "login": login_key(login),
        "name": name,
        "role": str(role),
        "made_utc_s": now_utc_s,
    }
    try:
        connection.execute(insert(PERSON), row)
    except IntegrityError as taken:
        raise LoginTakenError from taken
    return person


def invite(connection: Connection, person: str, until_utc_s: float, *, beside: bool = False) -> str:
    """A code by which this person chooses a password; older ones work no more, unless it is one
    ``beside`` them."""
    code = new_token()
    if not beside:
        connection.execute(delete(INVITATION).where(INVITATION.c.person == person))
    row = {"code_sha256": hash_of(code), "person": person, "until_utc_s": until_utc_s}
    connection.execute(insert(INVITATION), row)
    return code


def invited(connection: Connection, code: str, now_utc_s: float) -> Person | None:
    """Whose invitation this is; None for one that is spent, past its time, or was never given."""
    query = (
        select(PERSON)
        .join(INVITATION, INVITATION.c.person == PERSON.c.id)
        .where(
            INVITATION.c.code_sha256 == hash_of(code),
            INVITATION.c.until_utc_s >= now_utc_s,
            _STANDS,
        )
    )
    row = connection.execute(query).mappings().first()
    return None if row is None else _person(row)


def take_up(connection: Connection, code: str, password: str, now_utc_s: float) -> Person | None:
    """Spend an invitation, and all others of this person: this (hashed) password opens the account
    from now on, and whoever was signed in to it is so no more."""
    # Of two who come for one person, the second waits here, and then finds it spent.
    of_code = select(INVITATION.c.person).where(INVITATION.c.code_sha256 == hash_of(code))
    locked = select(PERSON.c.id).where(PERSON.c.id.in_(of_code)).with_for_update()
    connection.execute(locked)
    person = invited(connection, code, now_utc_s)
    if person is None:
        return None
    connection.execute(delete(INVITATION).where(INVITATION.c.person == person.id))
    set_password(connection, person.id, password)
    return person


def call(connection: Connection, person: Person, name: str, login: str) -> Person:
    """Another name, and another sign-in name; what is empty stays. It is the only account."""
    found = msgspec.structs.replace(person, name=name or person.name)
    values = {"name": found.name} | ({"login": login_key(login)} if login_key(login) else {})
    connection.execute(update(PERSON).where(PERSON.c.id == person.id).values(**values))
    return found


def set_password(connection: Connection, person: str, password: str) -> None:
    """This (hashed) password opens the account from now on, and whoever is signed in to it is so no
    more."""
    connection.execute(update(PERSON).where(PERSON.c.id == person).values(password=password))
    _sign_out_everywhere(connection, person)


def with_login(connection: Connection, login: str) -> tuple[Person, str] | None:
    """The account of this sign-in name and its hashed password, if it has one and stands."""
    query = select(PERSON).where(
        PERSON.c.login == login_key(login), PERSON.c.password.is_not(None), _STANDS
    )
    row = connection.execute(query).mappings().first()
    return None if row is None else (_person(row), row["password"])


def standing(connection: Connection, login: str) -> Person | None:
    """The account of this sign-in name, with a password or without, if it stands."""
    query = select(PERSON).where(PERSON.c.login == login_key(login), _STANDS)
    row = connection.execute(query).mappings().first()
    return None if row is None else _person(row)


def begin(connection: Connection, person: str, now_utc_s: float, until_utc_s: float) -> str:
    """Sign in: the token of this browser."""
    token = new_token()
    row = {
        "token_sha256": hash_of(token),
        "person": person,
        "begun_utc_s": now_utc_s,
        "until_utc_s": until_utc_s,
    }
    connection.execute(insert(SIGN_IN), row)
    return token


def signed_in(store: Store, token: str, now_utc_s: float) -> Person | None:
    """Whose browser this is; None for a stranger's, and for a token past its time."""
    query = (
        select(PERSON)
        .join(SIGN_IN, SIGN_IN.c.person == PERSON.c.id)
        .where(
            SIGN_IN.c.token_sha256 == hash_of(token), SIGN_IN.c.until_utc_s >= now_utc_s, _STANDS
        )
    )
    with store.reading() as connection:
        row = connection.execute(query).mappings().first()
    return None if row is None else _person(row)


def end(store: Store, token: str) -> None:
    """Sign this browser out."""
    with store.writing() as connection:
        connection.execute(delete(SIGN_IN).where(SIGN_IN.c.token_sha256 == hash_of(token)))


def _sign_out_everywhere(connection: Connection, person: str) -> None:
    for table in (SIGN_IN, DEVICE):
        connection.execute(delete(table).where(table.c.person == person))


def withdraw(connection: Connection, person: str, now_utc_s: float) -> Person | None:
    """Close an account at once, with its sign-ins, its invitations, its groups, the families' links
    that it made and what it handed to courts. Raises LastHeadCoachError."""
    locked = select(PERSON).where(PERSON.c.id == person, _STANDS).with_for_update()
    row = connection.execute(locked).mappings().first()
    if row is None:
        return None
    found = _person(row)
    if found.role is Role.HEAD_COACH and _head_coaches(connection) <= 1:
        raise LastHeadCoachError
    gone = update(PERSON).where(PERSON.c.id == person)
    # The sign-in name is free again.
    connection.execute(gone.values(withdrawn_utc_s=now_utc_s, password=None, login=person))
    connection.execute(delete(INVITATION).where(INVITATION.c.person == person))
    connection.execute(delete(GROUP_COACH).where(GROUP_COACH.c.person == person))
    take_everything_back(connection, person)
    links = (FAMILY_LINK.c.made_by == person) & FAMILY_LINK.c.withdrawn_utc_s.is_(None)
    connection.execute(update(FAMILY_LINK).where(links).values(withdrawn_utc_s=now_utc_s))
    _sign_out_everywhere(connection, person)
    return found


def _head_coaches(connection: Connection) -> int:
    """Those who could sign in; two who are withdrawn at once wait for one another."""
    query = select(PERSON.c.id).where(
        PERSON.c.role == Role.HEAD_COACH, PERSON.c.password.is_not(None), _STANDS
    )
    return len(connection.execute(query.with_for_update()).all())


def person_of(connection: Connection, person: str) -> Person | None:
    """The account of this id, if it stands."""
    query = select(PERSON).where(PERSON.c.id == person, _STANDS)
    row = connection.execute(query).mappings().first()
    return None if row is None else _person(row)
