"""Signing in by name and password, and who it is that asks afterwards."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import msgspec
from sqlalchemy import Connection
from starlette.requests import HTTPConnection

from feedscript.club.people.passwords import COST, Cost, hashed, is_right
from feedscript.club.store.people import accounts, audit, tries
from feedscript.club.store.people.audit import Act
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Who
from feedscript.tongues.text import Text, _

#: Holds the browser's token while somebody is signed in; and the one by which it is known after.
COOKIE, DEVICE_COOKIE = "feedscript_club", "feedscript_club_device"
SIGN_IN_S = 12 * 3600.0
DEVICE_S = 365 * 86_400.0
#: Wrong passwords within :data:`WINDOW_S` after which nobody is let in for a while: by a name from
#: browsers that were never signed in to it, by a browser that was, and from an address. Design
#: values: at 20 in a quarter of an hour a year's guessing tries 700,000 passwords.
WINDOW_S = 900.0
MOST_BY_NAME, MOST_BY_DEVICE, MOST_BY_ADDRESS = 20, 10, 40

#: A person may take so long at another service, s.
ASKED_S = 600.0

TOO_MANY = _("Too many wrong passwords. Wait a quarter of an hour, then try again.")
WRONG = _("Name and password do not belong together.")


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody who wants to sign in sends; ``device`` from a cookie, "" without one."""

    login: str
    password: str
    address: str
    device: str


class SignedIn(msgspec.Struct, frozen=True, kw_only=True):
    """Tokens for two cookies."""

    person: Person
    token: str
    device: str


def who_of(store: Store, now_s: Callable[[], float]) -> Who:
    """Tells who asks, by the cookie."""

    def who(asks: HTTPConnection) -> Person | None:
        token = asks.cookies.get(COOKIE, "")
        return accounts.signed_in(store, token, now_s()) if token else None

    return who


@lru_cache(maxsize=4)
def _nobodys(cost: Cost) -> str:
    """A hash to try a password against where there is no account: it takes as long."""
    return hashed("nobody has this password", cost)


def sign_in(store: Store, asked: Asked, now_utc_s: float, cost: Cost = COST) -> SignedIn | Text:
    """Let somebody in, or say why not; which of the two was wrong is not said."""
    with store.writing() as connection:
        found = accounts.with_login(connection, asked.login)
        limits = _limits(connection, asked, found, now_utc_s)
        since_s = now_utc_s - WINDOW_S
        if any(tries.wrong_since(connection, one, since_s) >= most for one, most in limits.items()):
            return TOO_MANY
        # Counted before it is tried: many at once are no way around the limit.
        tries.note_wrong(connection, list(limits), now_utc_s)
    kept = _nobodys(cost) if found is None else found[1]
    if not is_right(asked.password, kept) or found is None:
        return WRONG
    person, _hash = found
    with store.writing() as connection:
        if accounts.with_login(connection, asked.login) != found:
            return WRONG  # withdrawn meanwhile, or another password
        tries.forgive(connection, [one for one in limits if not one.startswith("address")])
        audit.note(connection, now_utc_s, person, Act.SIGNED_IN)
        return _let_in(connection, person, now_utc_s)


def let_in(store: Store, login: str, state: str, now_utc_s: float) -> SignedIn | None:
    """Let in whom another service vouches for by this address, once for each ``state`` that it was
    asked with; None where no account that stands signs in by it."""
    with store.writing() as connection:
        person = accounts.standing(connection, login)
        asked = f"state {state}"
        if person is None or tries.wrong_since(connection, asked, now_utc_s - ASKED_S):
            return None
        tries.note_wrong(connection, [asked], now_utc_s)  # it opens nothing a second time
        audit.note(connection, now_utc_s, person, Act.SIGNED_IN)
        return _let_in(connection, person, now_utc_s)


def _limits(
    connection: Connection, asked: Asked, found: tuple[Person, str] | None, now_utc_s: float
) -> dict[str, int]:
    """What a wrong password is counted about, and how many are too many."""
    by_address = {f"address {asked.address}": MOST_BY_ADDRESS}
    known = found is not None and tries.is_device_of(
        connection, asked.device, found[0].id, now_utc_s
    )
    if known:
        return {f"device {asked.device}": MOST_BY_DEVICE} | by_address
    return {f"name {accounts.login_key(asked.login)}": MOST_BY_NAME} | by_address


def _let_in(connection: Connection, person: Person, now_utc_s: float) -> SignedIn:
    return SignedIn(
        person=person,
        token=accounts.begin(connection, person.id, now_utc_s, now_utc_s + SIGN_IN_S),
        device=tries.new_device(connection, person.id, now_utc_s + DEVICE_S),
    )


class Called(msgspec.Struct, frozen=True, kw_only=True):
    """How the first head coach is called; what is left empty stays as it was."""

    name: str = ""
    login: str = ""


def take_up(
    store: Store,
    code: str,
    password: str,
    now_utc_s: float,
    cost: Cost = COST,
    called: Called = Called(),  # noqa: B008 (a frozen value)
) -> SignedIn | None:
    """Take up an invitation with a password that was looked at; None where it is none any more.
    The first head coach alone says how to be ``called``: to others the head coach gave a name."""
    kept = hashed(password, cost)
    first = not accounts.anybody(store)
    with store.writing() as connection:
        person = accounts.take_up(connection, code, kept, now_utc_s)
        if person is None:
            return None
        if first:
            person = accounts.call(connection, person, called.name, called.login)
        audit.note(connection, now_utc_s, person, Act.TOOK_UP)
        return _let_in(connection, person, now_utc_s)
