"""Coaches' programs in the store: each coach's own, with the versions that were saved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection, Row, delete, func, insert, select, update

from feedscript.club.store.people.tables import PERSON
from feedscript.club.store.people.tokens import new_id
from feedscript.club.store.program_tables import HANDED_PROGRAM, PROGRAM, PROGRAM_VERSION

#: So many programs has a coach at most, so long together (letters), and so many versions of each,
#: as long as this together. Design values: years of lessons, and what a server reads at once.
MOST_PROGRAMS, MOST_LETTERS = 300, 5_000_000
MOST_VERSIONS, MOST_VERSION_LETTERS = 400, 10_000_000
#: No program is called longer.
MOST_NAME = 80
#: So many has a court of one coach at most. Design value.
MOST_HANDED = 50


class Program(msgspec.Struct, frozen=True, kw_only=True):
    """A program as it stands."""

    id: str
    name: str
    words: str


class Saved(msgspec.Struct, frozen=True, kw_only=True):
    """A version that was saved once, by its number."""

    seq: int
    saved_utc_s: float


class TooMuchError(Exception):
    """A coach has as much as a coach may have; in words for a person."""


def programs_of(connection: Connection, person: str) -> list[Program]:
    """A coach's programs, by name."""
    query = select(PROGRAM).where(PROGRAM.c.person == person).order_by(PROGRAM.c.name, PROGRAM.c.id)
    return [
        Program(id=row.id, name=name, words=row.words)
        for row, name in _named(connection.execute(query).all())
    ]


def _named(rows: Sequence[Row[Any]]) -> Iterator[tuple[Row[Any], str]]:
    """Each with a name of its own: where a player's name was taken out of two names, they may have
    become one, or longer than a name may be."""
    taken: set[str] = set()
    for row in rows:
        name, number = row.name[:MOST_NAME].strip(), 2
        while name in taken:
            ending = f" {number}"
            name, number = f"{row.name[: MOST_NAME - len(ending)].strip()}{ending}", number + 1
        taken.add(name)
        yield row, name


def program_of(connection: Connection, person: str, name: str) -> Program | None:
    """A coach's program of this name."""
    return next((one for one in programs_of(connection, person) if one.name == name), None)


def one_at_a_time(connection: Connection, person: str) -> None:
    """Until this transaction ends nobody else saves for this coach."""
    connection.execute(select(PERSON.c.id).where(PERSON.c.id == person).with_for_update())


def write(
    connection: Connection, person: str, before: Program | None, name: str, words: str
) -> str:
    """A coach's program as it stands from now on, ``before`` or a new one; its id. Raises
    TooMuchError."""
    others = [
        one for one in programs_of(connection, person) if before is None or one.id != before.id
    ]
    if len(others) >= MOST_PROGRAMS:
        raise TooMuchError(f"there are {MOST_PROGRAMS} of yours already")
    if sum(len(one.words) for one in others) + len(words) > MOST_LETTERS:
        raise TooMuchError(f"yours would be longer than {MOST_LETTERS} letters together")
    if before is not None:
        of_program = update(PROGRAM).where(PROGRAM.c.id == before.id)
        connection.execute(of_program.values(words=words))
        return before.id
    program = new_id()
    row = {"id": program, "person": person, "name": name, "words": words}
    connection.execute(insert(PROGRAM), row)
    return program


def keep_version(connection: Connection, program: str, words: str, now_utc_s: float) -> None:
    """Put words among the versions, once in a row; the oldest go when there are too many."""
    of_program = select(PROGRAM_VERSION).where(PROGRAM_VERSION.c.program == program)
    newest = connection.execute(of_program.order_by(PROGRAM_VERSION.c.seq.desc()).limit(1)).first()
    if newest is not None and newest.words == words:
        return
    row = {"program": program, "words": words, "saved_utc_s": now_utc_s}
    connection.execute(insert(PROGRAM_VERSION), row)
    _let_old_go(connection, program)


def _let_old_go(connection: Connection, program: str) -> None:
    lengths = select(PROGRAM_VERSION.c.seq, func.length(PROGRAM_VERSION.c.words).label("letters"))
    of_program = lengths.where(PROGRAM_VERSION.c.program == program)
    letters = 0
    rows = connection.execute(of_program.order_by(PROGRAM_VERSION.c.seq.desc())).all()
    for number, row in enumerate(rows):
        letters += row.letters
        if number and (number >= MOST_VERSIONS or letters > MOST_VERSION_LETTERS):
            old = PROGRAM_VERSION.c.seq <= row.seq
            connection.execute(
                delete(PROGRAM_VERSION).where(PROGRAM_VERSION.c.program == program, old)
            )
            return


def versions_of(connection: Connection, program: str) -> list[Saved]:
    """Those still kept, the newest first."""
    query = (
        select(PROGRAM_VERSION.c.seq, PROGRAM_VERSION.c.saved_utc_s)
        .where(PROGRAM_VERSION.c.program == program)
        .order_by(PROGRAM_VERSION.c.seq.desc())
    )
    return [Saved(seq=row.seq, saved_utc_s=row.saved_utc_s) for row in connection.execute(query)]


def words_of_version(connection: Connection, program: str, seq: int) -> str | None:
    """The words of one of a program's versions."""
    query = select(PROGRAM_VERSION.c.words).where(
        PROGRAM_VERSION.c.program == program, PROGRAM_VERSION.c.seq == seq
    )
    return connection.execute(query).scalar_one_or_none()


def delete_program(connection: Connection, person: str, program: Program) -> None:
    """A coach's program is no more, with its versions and wherever it was handed to."""
    connection.execute(delete(PROGRAM_VERSION).where(PROGRAM_VERSION.c.program == program.id))
    connection.execute(delete(PROGRAM).where(PROGRAM.c.id == program.id))
    handed = (HANDED_PROGRAM.c.person == person) & (HANDED_PROGRAM.c.name == program.name)
    connection.execute(delete(HANDED_PROGRAM).where(handed))


# --- handed to courts


class HandedOn(msgspec.Struct, frozen=True, kw_only=True):
    """A program handed to a court, in the words that it had then."""

    id: str
    host: str
    person: str
    coach: str
    name: str
    words: str
    handed_utc_s: float


def hand_on(
    connection: Connection, person: str, host: str, told: Sequence[Program], now_utc_s: float
) -> None:
    """From now on the court has these of this coach, in the place of any of the same names. Raises
    TooMuchError."""
    names = [one.name for one in told]
    same = (HANDED_PROGRAM.c.host == host) & (HANDED_PROGRAM.c.person == person)
    connection.execute(delete(HANDED_PROGRAM).where(same, HANDED_PROGRAM.c.name.in_(names)))
    others = _handed(connection, same)
    if len(others) + len(told) > MOST_HANDED:
        raise TooMuchError(f"the court has {MOST_HANDED} of yours already")
    letters = sum(len(one.words) for one in others) + sum(len(one.words) for one in told)
    if letters > MOST_LETTERS:
        raise TooMuchError(f"the court would have more than {MOST_LETTERS} letters of yours")
    rows = [
        {
            "id": new_id(),
            "host": host,
            "person": person,
            "name": one.name,
            "words": one.words,
            "handed_utc_s": now_utc_s,
        }
        for one in told
    ]
    connection.execute(insert(HANDED_PROGRAM), rows)


def handed_by(connection: Connection, person: str) -> list[HandedOn]:
    """What a coach has handed on, the newest first."""
    return _handed(connection, HANDED_PROGRAM.c.person == person)


def handed_to(connection: Connection, host: str) -> list[HandedOn]:
    """What a court has to fetch, the newest first."""
    return _handed(connection, HANDED_PROGRAM.c.host == host)


def _handed(connection: Connection, which: object) -> list[HandedOn]:
    query = (
        select(HANDED_PROGRAM, PERSON.c.name.label("coach"))
        .join(PERSON, PERSON.c.id == HANDED_PROGRAM.c.person)
        .where(which)  # type: ignore[arg-type]
        .order_by(HANDED_PROGRAM.c.handed_utc_s.desc(), HANDED_PROGRAM.c.id)
    )
    fields = HandedOn.__struct_fields__
    rows = connection.execute(query).mappings()
    return [HandedOn(**{name: row[name] for name in fields}) for row in rows]


def take_back(connection: Connection, person: str, handed: str) -> bool:
    """The court is to have it no more; False where this coach handed on no such thing."""
    of_person = HANDED_PROGRAM.c.person == person
    done = connection.execute(
        delete(HANDED_PROGRAM).where(of_person, HANDED_PROGRAM.c.id == handed)
    )
    return done.rowcount > 0


def take_everything_back(connection: Connection, person: str) -> None:
    """A coach has left: no court is to have anything of his any more."""
    connection.execute(delete(HANDED_PROGRAM).where(HANDED_PROGRAM.c.person == person))
