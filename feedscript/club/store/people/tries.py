"""Wrong passwords, counted: by sign-in name, by address, and by browser.

A name alone is no measure: whoever knows a coach's sign-in name could lock the coach out. A browser
in which the person signed in before therefore has a count of its own (OWASP, "Slow Down Online
Guessing Attacks with Device Cookies").
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, delete, func, insert, select

from feedscript.club.store.people.tables import DEVICE, WRONG_TRY
from feedscript.club.store.people.tokens import hash_of, new_token


def wrong_since(connection: Connection, about: str, since_utc_s: float) -> int:
    """How many wrong passwords were tried about this since then."""
    query = (
        select(func.count())
        .select_from(WRONG_TRY)
        .where(WRONG_TRY.c.about_sha256 == hash_of(about), WRONG_TRY.c.utc_s >= since_utc_s)
    )
    return connection.execute(query).scalar_one()


def note_wrong(connection: Connection, about: Sequence[str], now_utc_s: float) -> None:
    """One wrong password more about each of these."""
    rows = [{"about_sha256": hash_of(one), "utc_s": now_utc_s} for one in about]
    connection.execute(insert(WRONG_TRY), rows)


def forgive(connection: Connection, about: Sequence[str]) -> None:
    """The right password came: what was wrong before counts no more."""
    hashes = [hash_of(one) for one in about]
    connection.execute(delete(WRONG_TRY).where(WRONG_TRY.c.about_sha256.in_(hashes)))


def new_device(connection: Connection, person: str, until_utc_s: float) -> str:
    """The token of a browser in which this person has signed in."""
    token = new_token()
    row = {"token_sha256": hash_of(token), "person": person, "until_utc_s": until_utc_s}
    connection.execute(insert(DEVICE), row)
    return token


def is_device_of(connection: Connection, token: str, person: str, now_utc_s: float) -> bool:
    """Whether this person signed in in this browser before."""
    query = select(DEVICE.c.person).where(
        DEVICE.c.token_sha256 == hash_of(token),
        DEVICE.c.person == person,
        DEVICE.c.until_utc_s >= now_utc_s,
    )
    return connection.execute(query).first() is not None
