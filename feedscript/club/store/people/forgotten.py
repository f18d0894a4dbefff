"""A player forgotten: the name taken out of every text of the store, and a tombstone in its place,
by which it is taken out of whatever still comes from courts that have not heard.
"""

from __future__ import annotations

import secrets
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import msgspec
from sqlalchemy import Column, Connection, String, Table, delete, func, insert, select, text, update
from sqlalchemy.dialects import postgresql, sqlite

from feedscript.club.batch import Part
from feedscript.club.store import library
from feedscript.club.store.people.audit import player_key
from feedscript.club.store.people.players import forget_where_named, known_players, named
from feedscript.club.store.people.tables import (
    AUDIT,
    FAMILY_LINK,
    GROUP_PLAYER,
    OBEYED,
    SETTING,
    TOMBSTONE,
)
from feedscript.club.store.store import Store
from feedscript.club.store.tables import HOST, METADATA
from feedscript.club.tombstones import Tombstone, Tombstones, name_hash
from feedscript.journal.redaction import (
    FORGOTTEN,
    Replace,
    collecting,
    name_key,
    replaced,
    without_names,
)

_KEY = "tombstone-key"
#: Who takes events in shares this lock, and who forgets has it alone: nothing comes in between.
_LOCK = int.from_bytes(b"fdcf", "big")

#: The library's record is signed, word for word: what was changed there would be believed no more.
#: Where it has the name, the head coach is told (:func:`in_library`).
_SIGNED = "library_change"
#: Columns whose words are the program's own, or the name of somebody with an account, who may be
#: called as a player is.
_KEPT = frozenset(
    (
        *(("event", "kind"), ("audit", "who"), ("audit", "act"), ("person", "login")),
        *(("person", "name"), ("person", "role"), ("person", "password")),
        *(("stop_order", "asked_by"), ("setting", "value")),
    )
)
#: Texts of a lesson's head.
_TOLD = ("title", "source", "plan", "profiles", "group_json")


def taking_in(connection: Connection) -> None:
    """Until this transaction ends nobody forgets."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock_shared(:lock)"), {"lock": _LOCK})


def _forgetting(connection: Connection) -> None:
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})


def tombstone_key(connection: Connection) -> str:
    """The club's key, made when it is first asked for; within a transaction that writes."""
    row = {"name": _KEY, "value": secrets.token_hex(32)}
    made = postgresql.insert if connection.dialect.name == "postgresql" else sqlite.insert
    connection.execute(made(SETTING).on_conflict_do_nothing(), row)
    kept = select(SETTING.c.value).where(SETTING.c.name == _KEY)
    return str(connection.execute(kept).scalar_one())


def tombstones_for(connection: Connection, host: str) -> Tombstones | None:
    """Those that a court has not obeyed yet; None where there is none."""
    obeyed = select(OBEYED.c.seq).where(OBEYED.c.host == host).scalar_subquery()
    query = select(TOMBSTONE).where(TOMBSTONE.c.seq > func.coalesce(obeyed, 0))
    stones = tuple(
        Tombstone(number=row.seq, name_hash=row.name_hash, words=row.words)
        for row in connection.execute(query.order_by(TOMBSTONE.c.seq))
    )
    return Tombstones(key=tombstone_key(connection), stones=stones) if stones else None


def obey(connection: Connection, host: str, number: int, now_utc_s: float) -> bool:
    """A court says that it obeyed up to this number; False where there is no such tombstone."""
    most = connection.execute(select(func.max(TOMBSTONE.c.seq))).scalar()
    if number > (most or 0):
        return False
    before = connection.execute(select(OBEYED.c.seq).where(OBEYED.c.host == host)).scalar()
    if before is None:
        row = {"host": host, "seq": number, "utc_s": now_utc_s}
        connection.execute(insert(OBEYED), row)
    elif number > before:
        told = update(OBEYED).where(OBEYED.c.host == host)
        connection.execute(told.values(seq=number, utc_s=now_utc_s))
    return True


def not_heard(connection: Connection) -> list[str]:
    """Names of the courts that belong to the club and have not obeyed every tombstone."""
    newest = select(func.coalesce(func.max(TOMBSTONE.c.seq), 0)).scalar_subquery()
    query = (
        select(HOST.c.name)
        .outerjoin(OBEYED, OBEYED.c.host == HOST.c.id)
        .where(HOST.c.withdrawn_utc_s.is_(None), func.coalesce(OBEYED.c.seq, 0) < newest)
        .order_by(HOST.c.name)
    )
    return list(connection.scalars(query).all())


def redacted(connection: Connection, part: Part, stones: Tombstones | None) -> Part:
    """What came from a court without the names that it should have forgotten by now; a longer name
    that begins alike stays."""
    if stones is None:
        return part
    texts = [event.data for event in part.events]
    if part.header is not None:
        texts += [getattr(part.header, name) for name in _TOLD]
    found: set[str] = set()
    for one in texts:
        replaced(one, collecting(stones.names_in, found))
    if not found:
        return part
    known = [*known_players(connection).values(), *named(part.header, part.events)]
    return _without(part, without_names(found, known=known))


def _without(part: Part, replace: Replace) -> Part:
    head = part.header
    if head is not None:
        bare = {name: replaced(getattr(head, name), replace) for name in _TOLD}
        head = msgspec.structs.replace(head, **bare)
    events = tuple(
        msgspec.structs.replace(event, data=replaced(event.data, replace)) for event in part.events
    )
    return msgspec.structs.replace(part, header=head, events=events)


def forget(store: Store, player: str, now_utc_s: float) -> Counter[str]:
    """Take a player's name out of every text of every table, and put up a tombstone; how many rows
    of each table held it. What lies in the files of the name is overwritten where we can.

    A single letter is nobody's name in a whole club: raises ValueError.
    """
    name = name_key(player)
    if len("".join(name)) < 2:
        raise ValueError(player)
    with store.writing() as connection:
        _forgetting(connection)
        known = known_players(connection).values()
        hashed = name_hash(tombstone_key(connection), name)
        row = {"name_hash": hashed, "words": len(name), "utc_s": now_utc_s}
        connection.execute(insert(TOMBSTONE), row)
        changed = _forget_rows(connection, player)
        replace = without_names([player], known=known)
        changed += _replace_everywhere(connection, replace, _holds(name[0]))
    store.sweep()
    return changed


def _forget_rows(connection: Connection, player: str) -> Counter[str]:
    """What is of this player alone goes; the log of readings stays, without the name."""
    key = player_key(player)
    forget_where_named(connection, player)
    gone: Counter[str] = Counter()
    for table in (GROUP_PLAYER, FAMILY_LINK):
        done = connection.execute(delete(table).where(table.c.player_key == key))
        gone[table.name] += done.rowcount
    of_player = update(AUDIT).where(AUDIT.c.player_key == key)
    done = connection.execute(of_player.values(player=FORGOTTEN, player_key=""))
    gone["audit"] += done.rowcount
    return gone


def _holds(word: str) -> Callable[[str], bool]:
    """Whether a text may hold a name that begins with this word: quick, and never wrongly no."""

    def holds(told: str) -> bool:
        return word in unicodedata.normalize("NFC", told.casefold()) or "\\u" in told

    return holds


def _replace_everywhere(
    connection: Connection, replace: Replace, may: Callable[[str], bool]
) -> Counter[str]:
    changed: Counter[str] = Counter()
    for table in METADATA.sorted_tables:
        columns = [] if table.name == _SIGNED else list(_texts(table))
        if not columns:
            continue
        keys = list(table.primary_key.columns)
        rows = connection.execute(select(*keys, *columns).execution_options(yield_per=500))
        for key, new in [one for row in rows for one in _changes(row, len(keys), replace, may)]:
            of_row = [column == value for column, value in zip(keys, key, strict=True)]
            bare = {columns[at].name: _that_fits(columns[at], value) for at, value in new.items()}
            connection.execute(update(table).where(*of_row).values(bare))
            changed[table.name] += 1
    return changed


def _that_fits(column: Column[Any], told: str) -> str:
    """What stands for the name is longer than many a name: PostgreSQL refuses what has no room, and
    then nothing would be forgotten."""
    assert isinstance(column.type, String)
    return told[: column.type.length]


def _texts(table: Table) -> Iterator[Column[Any]]:
    """The columns in which words of people may stand. A table that is added later is covered."""
    for column in table.columns:
        named = (table.name, column.name)
        is_key = column.primary_key or column.foreign_keys or column.name.endswith("_sha256")
        if isinstance(column.type, String) and not is_key and named not in _KEPT:
            yield column


def _changes(
    row: Any, keys: int, replace: Replace, may: Callable[[str], bool]
) -> Iterator[tuple[tuple[Any, ...], dict[int, str]]]:
    """The row's key and its texts that are not as before, if any."""
    new = {}
    for at, value in enumerate(row[keys:]):
        if value is not None and may(value):
            bare = replaced(value, replace)
            if bare != value:
                new[at] = bare
    if new:
        yield tuple(row[:keys]), new


def in_library(store: Store, player: str) -> list[str]:
    """The names of those texts of the club's library in which this name stands, by name.

    They are left as they are: a name in an exercise may be an invented one, and each is signed.
    """
    replace = without_names([player])
    found = set()
    for change in library.changes(store):
        content = library.text_of(store, change.sha256) or b""
        told = (change.name, change.words, content.decode("utf-8", "replace"))
        if any(replace(one) != one for one in told):
            found.add(change.name)
    return sorted(found)
