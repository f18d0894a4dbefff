"""The courts' computers: one joins by a code that works once, and is known by its key afterwards.

A key is 256 random bits, so that its plain SHA-256 cannot be guessed back; a code, which a person
may have to type, is 80, which are not tried through within the minutes that it lives.
"""

from __future__ import annotations

import hashlib
import secrets

import msgspec
from sqlalchemy import Connection, insert, select, update

from feedscript.club.store.store import Store
from feedscript.club.store.tables import HOST, JOIN_CODE

#: Letters and digits that are not mistaken for one another.
ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
CODE_LENGTH = 16
CODE_LIFE_S = 600.0


class Joined(msgspec.Struct, frozen=True):
    """What a computer is given once, and keeps."""

    host: str
    key: str


class Court(msgspec.Struct, frozen=True, kw_only=True):
    """A court's computer as people see it."""

    id: str
    name: str
    joined_utc_s: float


def _sha256(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def _code_sha256(code: str) -> str:
    """However somebody typed it."""
    return _sha256("".join(code.split()).replace("-", "").upper())


def new_code(store: Store, until_utc_s: float) -> str:
    """A code by which one computer may join until then, in groups of four."""
    letters = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    code = "-".join(letters[at : at + 4] for at in range(0, CODE_LENGTH, 4))
    row = {"code_sha256": _code_sha256(code), "until_utc_s": until_utc_s}
    with store.writing() as connection:
        connection.execute(insert(JOIN_CODE), row)
    return code


def join(store: Store, code: str, name: str, now_utc_s: float) -> Joined | None:
    """The key of the computer that joins with this code; None for one that is spent, past its time,
    or was never given."""
    joined = Joined(secrets.token_hex(8), secrets.token_urlsafe(32))
    row = {
        "id": joined.host,
        "name": name,
        "key_sha256": _sha256(joined.key),
        "joined_utc_s": now_utc_s,
    }
    of_code = JOIN_CODE.c.code_sha256 == _code_sha256(code)
    good = of_code & (JOIN_CODE.c.until_utc_s >= now_utc_s) & JOIN_CODE.c.used_by.is_(None)
    with store.writing() as connection:
        # Of two who come with one code, the second waits here, and then finds it spent.
        found = select(JOIN_CODE.c.code_sha256).where(good).with_for_update()
        if connection.execute(found).first() is None:
            return None
        connection.execute(insert(HOST), row)
        connection.execute(update(JOIN_CODE).where(of_code).values(used_by=joined.host))
    return joined


def host_of(store: Store, key: str) -> str | None:
    """Whose key this is; None if nobody's, or withdrawn."""
    known = select(HOST.c.id).where(
        HOST.c.key_sha256 == _sha256(key), HOST.c.withdrawn_utc_s.is_(None)
    )
    with store.reading() as connection:
        return connection.execute(known).scalar_one_or_none()


def withdraw(store: Store, host: str, now_utc_s: float) -> None:
    """The computer's key opens nothing any more; what it sent stays."""
    gone = update(HOST).where(HOST.c.id == host).values(withdrawn_utc_s=now_utc_s)
    with store.writing() as connection:
        connection.execute(gone)


def name_of(connection: Connection, host: str) -> str:
    """What the court is called; its id where nobody knows."""
    named = connection.execute(select(HOST.c.name).where(HOST.c.id == host)).scalar()
    return host if named is None else str(named)


def courts(store: Store) -> list[Court]:
    """Every court that belongs to the club, by name."""
    query = select(HOST).where(HOST.c.withdrawn_utc_s.is_(None)).order_by(HOST.c.name, HOST.c.id)
    with store.reading() as connection:
        return [
            Court(id=row.id, name=row.name, joined_utc_s=row.joined_utc_s)
            for row in connection.execute(query)
        ]
