"""A PostgreSQL that is there and lets nobody in yet: it starts, or makes good what a crash left."""

from __future__ import annotations

import time
from collections.abc import Callable

from psycopg import pq
from psycopg.conninfo import make_conninfo
from sqlalchemy import Engine

#: So long it is waited for, and so often it is asked, s. Design values.
PATIENCE_S, ASK_S = 120.0, 0.5


def wait_until_it_lets_in(
    engine: Engine,
    told: Callable[[float], None],
) -> None:
    """Come back once it answers otherwise than "not yet", or nobody would wait longer: whoever
    connects then hears what there is. ``told`` is given for how long at most, in s, where there is
    anything to wait for."""
    if engine.dialect.name != "postgresql":
        return
    until_s, waited = time.monotonic() + PATIENCE_S, False
    while _rejects(engine) and time.monotonic() < until_s:
        if not waited:
            told(PATIENCE_S)
        waited = True
        time.sleep(ASK_S)


def _rejects(engine: Engine) -> bool:
    """Whether it says so: told apart from other refusals by PostgreSQL's own library, in whatever
    language the server speaks."""
    named = engine.url.translate_connect_args(username="user", database="dbname")
    query = engine.url.normalized_query  # several of a kind are one after the other
    more = {key: ",".join(values) for key, values in query.items()}
    said = pq.PGconn.ping(make_conninfo("", **(named | more)).encode())
    return bool(said == pq.Ping.REJECT)
