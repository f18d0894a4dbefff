"""What is thrown away by rule: lessons and the log of readings when they are old enough, and
whatever opens nothing any more."""

from __future__ import annotations

from collections import Counter

from sqlalchemy import Connection, delete, insert, select, tuple_, update

from feedscript.club.store.log_tables import EVENT, LESSON
from feedscript.club.store.people import audit
from feedscript.club.store.people.audit import Act
from feedscript.club.store.people.tables import (
    AUDIT,
    DEVICE,
    FAMILY_LINK,
    INVITATION,
    LESSON_PLAYER,
    SETTING,
    SIGN_IN,
    WRONG_TRY,
)
from feedscript.club.store.store import Store

DAY_S = 86_400.0
#: Settings, in days; 0 or none: kept until somebody throws it away.
LESSONS_DAYS, AUDIT_DAYS = "keep-lessons-days", "keep-audit-days"
#: Who did it, in the log.
RULES = "feedscript"
#: A withdrawn or expired link is shown as such for so long; wrong passwords count for minutes.
#: Design values.
LINKS_SHOWN_S = 90 * DAY_S
TRIES_KEPT_S = DAY_S


def kept_days(connection: Connection, what: str) -> int:
    """For how many days this is kept; 0 for always."""
    value = connection.execute(select(SETTING.c.value).where(SETTING.c.name == what)).scalar()
    return 0 if value is None else int(value)


def keep_days(connection: Connection, what: str, days: int) -> None:
    """From now on this is kept for so many days; 0 for always."""
    connection.execute(delete(SETTING).where(SETTING.c.name == what))
    connection.execute(insert(SETTING), {"name": what, "value": str(days)})


def throw_away_old(store: Store, now_utc_s: float) -> Counter[str]:
    """What the rules say is old enough; how much of what went."""
    gone: Counter[str] = Counter()
    with store.writing() as connection:
        if days := kept_days(connection, LESSONS_DAYS):
            gone["lessons"] = _lessons(connection, now_utc_s - days * DAY_S)
        if days := kept_days(connection, AUDIT_DAYS):
            old = AUDIT.c.utc_s < now_utc_s - days * DAY_S
            gone["readings"] = connection.execute(delete(AUDIT).where(old)).rowcount
        _spent(connection, now_utc_s)
        if gone.total():
            told = f"{gone['lessons']} / {gone['readings']}"
            audit.note(connection, now_utc_s, RULES, Act.THREW_AWAY, about=told)
    if gone.total():
        store.sweep()
    return gone


def _lessons(connection: Connection, before_utc_s: float) -> int:
    """Their numbers stay, so that courts do not send them again; nothing that they held does."""
    old = select(LESSON.c.host, LESSON.c.lesson).where(LESSON.c.begun_utc_s < before_utc_s)
    full = LESSON.c.plan != ""
    lessons = len(connection.execute(old.where(full)).all())
    for table in (EVENT, LESSON_PLAYER):  # also of what came late to a lesson that is bare already
        of_old = tuple_(table.c.host, table.c.lesson).in_(old)
        connection.execute(delete(table).where(of_old))
    bare = {"title": "", "source": "", "plan": "", "profiles": "", "group_json": ""}
    emptied = update(LESSON).where(LESSON.c.begun_utc_s < before_utc_s, full)
    connection.execute(emptied.values(bare))
    return lessons


def _spent(connection: Connection, now_utc_s: float) -> None:
    """What opens nothing any more."""
    for table, column, before_utc_s in (
        (INVITATION, INVITATION.c.until_utc_s, now_utc_s),
        (SIGN_IN, SIGN_IN.c.until_utc_s, now_utc_s),
        (DEVICE, DEVICE.c.until_utc_s, now_utc_s),
        (WRONG_TRY, WRONG_TRY.c.utc_s, now_utc_s - TRIES_KEPT_S),
        (FAMILY_LINK, FAMILY_LINK.c.until_utc_s, now_utc_s - LINKS_SHOWN_S),
    ):
        connection.execute(delete(table).where(column < before_utc_s))
