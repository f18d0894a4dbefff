"""A store on either database, copied from one that was made once, with people in it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from feedscript.club.store.people import accounts, groups
from feedscript.club.store.store import Store, open_store
from feedscript.club.who import Person, Role
from tests.club.conftest import Postgres


@pytest.fixture
def on_postgres(postgres: Postgres) -> Iterator[Store]:
    with postgres.new_store() as address, closing(open_store(address)) as opened:
        yield opened


def person(store: Store, name: str, role: Role) -> Person:
    """An account with a password that nobody checks."""
    with store.writing() as connection:
        made = accounts.make(connection, f"{name}@club.example", name, role, 1.0)
        code = accounts.invite(connection, made.id, 100.0)
        assert accounts.take_up(connection, code, "$none", 2.0) == made
    return made


def group(store: Store, name: str, players: list[str], *coaches: Person) -> str:
    with store.writing() as connection:
        return groups.save(connection, None, name, players, [one.id for one in coaches])


def files_of(store: Store) -> bytes:
    """Every byte of a store in a file, and of what lies beside it."""
    path = Path(store.name.removeprefix("sqlite:///"))
    return b"".join(one.read_bytes() for one in path.parent.glob("club.sqlite*"))
