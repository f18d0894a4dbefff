"""STOPs for courts, as all server processes know them."""

from __future__ import annotations

import msgspec
from sqlalchemy import RowMapping, Update, insert, select, update

from feedscript.club.messages import StopState, StopTold
from feedscript.club.store.clock import now_s
from feedscript.club.store.live_tables import STOP_ORDER
from feedscript.club.store.store import Store
from feedscript.club.store.tables import HOST

#: How old a STOP may be and still be told of to pages, s.
TOLD_S = 120.0


class Order(msgspec.Struct, frozen=True):
    """A STOP as it is written down, and how old it is by the database's clock."""

    told: StopTold
    age_s: float


def ask(store: Store, order: str, host: str, by: str) -> bool:
    """Write down that a court is to stop; False when there is no such court."""
    with store.writing() as connection:
        if connection.execute(select(HOST.c.id).where(HOST.c.id == host)).first() is None:
            return False
        row = {"id": order, "host": host, "asked_by": by, "says": ""}
        connection.execute(insert(STOP_ORDER).values(asked_utc_s=now_s(connection), **row))
        store.stop_bell.ring_within(connection)
    store.stop_bell.ring()
    return True


def heard(store: Store, order: str, host: str) -> None:
    """Its court has heard it; nothing happens for another court's."""
    unheard = _of(order, host).where(STOP_ORDER.c.heard_utc_s.is_(None))
    with store.writing() as connection:
        connection.execute(unheard.values(heard_utc_s=now_s(connection)))
        store.stop_bell.ring_within(connection)
    store.stop_bell.ring()


def ended(store: Store, order: str, host: str, stopped: bool, says: str) -> None:
    """Its court says what became of it. The first word stays."""
    going_on = _of(order, host).where(STOP_ORDER.c.ended_utc_s.is_(None))
    with store.writing() as connection:
        now = now_s(connection)
        connection.execute(going_on.values(ended_utc_s=now, stopped=stopped, says=says))
        store.stop_bell.ring_within(connection)
    store.stop_bell.ring()


def _of(order: str, host: str) -> Update:
    return update(STOP_ORDER).where(STOP_ORDER.c.id == order, STOP_ORDER.c.host == host)


def recent(store: Store) -> list[Order]:
    """All of the last :data:`TOLD_S`, the oldest first."""
    with store.reading() as connection:
        age_s = (now_s(connection) - STOP_ORDER.c.asked_utc_s).label("age_s")
        query = (
            select(STOP_ORDER, age_s)
            .where(STOP_ORDER.c.asked_utc_s > now_s(connection) - TOLD_S)
            .order_by(STOP_ORDER.c.asked_utc_s)
        )
        return [_order(row) for row in connection.execute(query).mappings()]


def _order(row: RowMapping) -> Order:
    told = StopTold(
        order=row["id"], host=row["host"], by=row["asked_by"], state=_state(row), says=row["says"]
    )
    return Order(told, row["age_s"])


def _state(row: RowMapping) -> StopState:
    if row["ended_utc_s"] is not None:
        return StopState.STOPPED if row["stopped"] else StopState.NOTHING
    return StopState.ASKED if row["heard_utc_s"] is None else StopState.HEARD
